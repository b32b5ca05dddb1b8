/** What can be known of a block before the program runs: settings, lets, build settings, sizes and `dt`. */

import type { Spot } from '../language/syntax.ts';
import { namesIn, standsOn } from '../language/walk.ts';
import { letNamed } from './declared.ts';
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
      if (quantity === undefined && letNamed(instance.flat.text, name) === undefined)
        lowering.findings.push(textFinding(instance, 'not_on_host', { name }, at, name));
      return quantity;
    },
    list: () => undefined,
    report: (id, facts, at) => {
      lowering.findings.push(textFinding(instance, id, facts, at, ''));
    },
  };
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
  if (letNamed(instance.flat.text, name) === undefined) return undefined;
  const keyOf = (other: string): string => `${instance.path}.${other}`;
  const isOpen = (other: string): boolean =>
    letNamed(instance.flat.text, other) !== undefined && !lowering.lets.has(keyOf(other));
  if (lowering.lets.get(keyOf(name)) === 'busy')
    lowering.findings.push(textFinding(instance, 'circular_name', { name }, at, ''));
  else if (isOpen(name))
    for (const other of standsOn(name, (one) => namesIn(letNamed(instance.flat.text, one)?.value).filter(isOpen)))
      evaluateLet(instance, other, keyOf(other), lowering);
  const known = lowering.lets.get(keyOf(name));
  return typeof known === 'string' ? undefined : known;
}

function evaluateLet(instance: Instance, name: string, key: string, lowering: Lowering): void {
  const equation = letNamed(instance.flat.text, name);
  if (equation === undefined || lowering.lets.has(key)) return;
  lowering.lets.set(key, 'busy');
  const quantity = lowerExpression(equation.value, hostScope(instance, lowering));
  lowering.lets.set(key, quantity ?? 'failed');
  for (const [i, item] of (quantity?.items ?? []).entries())
    if (item.host !== undefined)
      lowering.assembly.nameNode(item.host, quantity?.items.length === 1 ? key : `${key}_${i + 1}`);
}
