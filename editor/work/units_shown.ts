/** The unit a value is shown in when nobody chose one: as declared; the radian, which units may drop, is found again along the wires. */

import type { Compiled } from '../../compiler/compile.ts';
import { parseExpression } from '../../compiler/language/parser.ts';
import type { Expression, TypeExpression } from '../../compiler/language/syntax.ts';
import { isUnitLetter } from '../../compiler/language/units.ts';
import { walk } from '../../compiler/language/walk.ts';
import type { SettingValue } from '../../compiler/sheet/sheet.ts';
import type { Instance } from '../../compiler/stages/resolve.ts';

/** Ports that must have one unit: joined when a wire or a unit letter says so. */
class Joined {
  private readonly parent = new Map<string, string>();

  root(name: string): string {
    let at = name;
    for (let up = this.parent.get(at); up !== undefined; up = this.parent.get(at)) at = up;
    return at;
  }

  join(a: string, b: string): void {
    const [x, y] = [this.root(a), this.root(b)];
    if (x !== y) this.parent.set(x, y);
  }
}

/** A function from a block's path and a name in it to the unit's words; empty for none. */
export function unitsShown(compiled: Compiled): (path: string, name: string) => string {
  const joined = new Joined();
  const angles = new Set<string>();
  const declared = new Map<string, string>();
  const { instances } = compiled.resolved;
  for (const instance of instances.values()) {
    const { path, flat } = instance;
    for (const [name, type] of typesOf(instance)) {
      const unit = type.unit;
      const [factor] = unit?.factors ?? [];
      const letters = unit?.factors.some(({ symbol }) => isUnitLetter(symbol)) === true;
      if (unit !== undefined && !letters) declared.set(`${path}.${name}`, unit.text);
      else if (unit?.factors.length === 1 && factor?.power === 1)
        joined.join(`${path}.${name}`, `${path}:${factor.symbol}`);
    }
    for (const [input, source] of flat.wires) joined.join(`${path}.${input}`, `${source.path}.${source.port}`);
  }
  for (const { path, flat } of instances.values())
    for (const [name, value] of flat.set) if (saysAngle(value)) angles.add(joined.root(`${path}.${name}`));
  for (const [name, unit] of declared) if (unit === 'rad') angles.add(joined.root(name));
  return (path, name) => {
    const key = `${path}.${name}`;
    const own = declared.get(key);
    if (own !== undefined) return own;
    const found = compiled.unit(path, name);
    if (found !== '1') return found;
    return angles.has(joined.root(key)) ? 'rad' : '';
  };
}

function* typesOf({ flat }: Instance): Generator<readonly [string, TypeExpression]> {
  const { text, inputs } = flat;
  for (const one of [...text.inputs, ...text.outputs, ...text.settings, ...text.memories]) yield [one.name, one.type];
  for (const { name, kind } of inputs) {
    const open = text.openInputs.find((list) => list.kinds.length === 0 || list.kinds.includes(kind));
    if (open !== undefined && !open.type.each) yield [name, open.type];
  }
}

/** Whether a value is written as an angle: `2 rad`, `-90 deg`. */
function saysAngle(value: SettingValue): boolean {
  const expression: Expression | undefined = typeof value === 'string' ? parseExpression(value).value : undefined;
  let found = false;
  if (expression !== undefined)
    walk(expression, (inner) => {
      const factors = inner.kind === 'number' ? (inner.unit?.factors ?? []) : [];
      const [only] = factors;
      if (factors.length === 1 && only?.power === 1 && /^(m?rad|deg|rev)$/.test(only.symbol)) found = true;
    });
  return found;
}
