/** What can be known of a block before the program runs: settings, lets, build settings, sizes and `dt`. */

import type { Equation, Spot } from '../language/syntax.ts';
import { lowerExpression } from './expression.ts';
import { type Quantity, type Scope, scalar } from './quantity.ts';
import type { Instance } from './resolve.ts';
import { type Lowering, textFinding } from './slots.ts';

/** What can be known on the host of one block: settings, lets, build settings, sizes, `dt`. */
export function hostScope(instance: Instance, lowering: Lowering): Scope {
  return {
    graph: lowering.assembly.graph,
    allowance: lowering.assembly.allowance.of(instance.path),
    runTime: undefined,
    tick: lowering.resolved.tick,
    period: instance.period,
    name: (name, at) => {
      const quantity = hostName(instance, name, lowering, at);
      if (quantity === undefined && letOf(instance, name) === undefined)
        lowering.findings.push(textFinding(instance, 'not_on_host', { name }, at, name));
      return quantity;
    },
    list: () => undefined,
    report: (id, facts, at) => {
      lowering.findings.push(textFinding(instance, id, facts, at, ''));
    },
  };
}

/** The equation of a let by its name. */
export function letOf(instance: Instance, name: string): Equation | undefined {
  return instance.flat.text.equations.find((e) => e.kind === 'let' && e.name === name);
}

/** What a name is on the host; undefined where it is nothing there, or a let about which findings were reported. */
export function hostName(instance: Instance, name: string, lowering: Lowering, at: Spot): Quantity | undefined {
  const { graph } = lowering.assembly;
  if (name === 'dt') return scalar('real', { host: graph.constant(instance.period) });
  const mode = instance.flat.text.modes.indexOf(name);
  if (mode >= 0) return scalar('int', { host: graph.constant(mode) });
  const build = instance.builds.get(name);
  if (build !== undefined) {
    if ('value' in build) return scalar(build.type, { host: graph.constant(build.value) });
    if (build.type === 'texts') return { kind: 'word', rows: 1, columns: 1, items: [], words: build.words };
    return { kind: 'word', rows: 1, columns: 1, items: [], word: build.word };
  }
  const size = instance.sizes.get(name);
  if (size !== undefined) return scalar('int', { host: graph.constant(size) });
  const setting = instance.settings.get(name);
  if (setting !== undefined) {
    const key = `${instance.path}.${name}`;
    const items = setting.numbers.map((number, i) => {
      const element = setting.numbers.length === 1 ? key : `${key}[${i + 1}]`;
      const node = graph.setting(element, number);
      lowering.assembly.nameNode(node, setting.numbers.length === 1 ? key : `${key}_${i + 1}`);
      return { host: node };
    });
    return { kind: setting.kind, rows: setting.rows, columns: setting.columns, items };
  }
  return letValue(instance, name, lowering, at);
}

function letValue(instance: Instance, name: string, lowering: Lowering, at: Spot): Quantity | undefined {
  const equation = letOf(instance, name);
  if (equation === undefined) return undefined;
  const key = `${instance.path}.${name}`;
  const known = lowering.lets.get(key);
  if (known === 'busy') lowering.findings.push(textFinding(instance, 'circular_name', { name }, at, ''));
  if (known !== undefined) return typeof known === 'string' ? undefined : known;
  lowering.lets.set(key, 'busy');
  const quantity = lowerExpression(equation.value, hostScope(instance, lowering));
  lowering.lets.set(key, quantity ?? 'failed');
  if (quantity !== undefined)
    for (const [i, item] of quantity.items.entries())
      if (item.host !== undefined)
        lowering.assembly.nameNode(item.host, quantity.items.length === 1 ? key : `${key}_${i + 1}`);
  return quantity;
}
