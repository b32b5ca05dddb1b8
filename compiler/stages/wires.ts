/** What must fit at every input: that it is wired, to the right type, size and unit. */

import type { Finding, Repair } from '../findings.ts';
import {
  type BlockUnits,
  checkUnits,
  type Inferred,
  isOne,
  letterForm,
  ONE,
  timesPower,
  type UnitForm,
  UnitSolver,
} from '../language/unit_check.ts';
import { dimensionText } from '../language/units.ts';
import type { SettingValue } from '../sheet/sheet.ts';
import { type Instance, type Resolved, type Signal, sourceSignal } from './resolve.ts';

/** The unit solved for a port, in words; empty for none. */
export type PortUnit = (path: string, name: string) => string;

export function checkWires(resolved: Resolved, findings: Finding[]): PortUnit {
  for (const instance of resolved.instances.values()) checkInputs(instance, resolved, findings);
  return checkAllUnits(resolved, findings);
}

function wireKeys(instance: Instance, input: string): string[] {
  const { keys } = instance.flat;
  return [...keys.slice(0, -2), 'wires', `${keys.at(-1)}.${input}`];
}

function checkInputs(instance: Instance, resolved: Resolved, findings: Finding[]): void {
  const { flat, path } = instance;
  const inputs = [
    ...flat.text.inputs.map((input) => ({ name: input.name, optional: input.fallback !== undefined })),
    ...flat.inputs.map((input) => ({ name: input.name, optional: false })),
  ];
  for (const { name, optional } of inputs) {
    const source = flat.wires.get(name);
    if (source === undefined) {
      if (!optional && !flat.wired.has(name))
        findings.push({
          id: 'unconnected_input',
          level: 'error',
          at: { path: `${path}.${name}` },
          facts: { input: name, block: path },
          repair: feedWithFixed(instance, name),
        });
      continue;
    }
    const got = sourceSignal(resolved.instances, source);
    const wanted = instance.signals.get(name);
    if (got === undefined || wanted === undefined) continue;
    const from = `${source.path}.${source.port}`;
    const size = resolved.instances.get(source.path)?.signals.get(source.port);
    if (source.element !== undefined && size !== undefined && source.element > size.rows * size.columns)
      findings.push({
        id: 'index_outside',
        level: 'error',
        at: { path: `${path}.${name}` },
        facts: { index: String(source.element), size: String(size.rows * size.columns), source: from },
      });
    if (got.kind !== wanted.kind)
      findings.push({
        id: 'wrong_wire_type',
        level: 'error',
        at: { path: `${path}.${name}` },
        facts: { wanted: kindWords[wanted.kind], got: kindWords[got.kind], source: from },
        repair: { label: 'Remove the wire', edits: [{ path: wireKeys(instance, name) }] },
      });
    else if (got.rows !== wanted.rows || got.columns !== wanted.columns)
      findings.push({
        id: 'wrong_wire_size',
        level: 'error',
        at: { path: `${path}.${name}` },
        facts: { wanted: sizeWords(wanted), got: sizeWords(got), source: from },
        ...(wanted.rows * wanted.columns === 1
          ? {
              repair: {
                label: 'Take its first value',
                edits: [
                  {
                    path: wireKeys(instance, name),
                    value: `${source.port === '' ? '' : relativeSource(instance, name)}[1]`,
                  },
                ],
              },
            }
          : {}),
      });
  }
}

/** A source as its wire writes it, without its path from outside. */
function relativeSource(instance: Instance, input: string): string {
  const source = instance.flat.wires.get(input);
  if (source === undefined) return '';
  const own = instance.path.split('.').slice(0, -1).join('.');
  const path = own !== '' && source.path.startsWith(`${own}.`) ? source.path.slice(own.length + 1) : source.path;
  return `${path}.${source.port}`;
}

/** Whether what feeds a block stands on the plant side: a plant block, or a sensor. */
function isSampled(instance: Instance): boolean {
  if (instance.side !== 'shore') return instance.side === 'plant';
  return instance.flat.text.channels.some((channel) => channel.direction === 'in');
}

/** Puts a `fixed` block before an input. */
function feedWithFixed(instance: Instance, input: string): Repair {
  const { keys } = instance.flat;
  const scope = keys.slice(0, -2);
  const own = keys.at(-1) ?? '';
  const name = `${own}_${input}`;
  return {
    label: 'Feed it with a fixed value',
    edits: [
      {
        path: [...scope, 'blocks', name],
        value: { is: 'fixed', ...(isSampled(instance) ? { side: 'plant' } : {}) },
      },
      { path: [...scope, 'wires', `${own}.${input}`], value: `${name}.y` },
    ],
  };
}

const kindWords = { real: 'a number', int: 'a whole number', bool: 'a yes or no' } as const;

function sizeWords(signal: Signal): string {
  const { rows, columns } = signal;
  return rows * columns === 1 ? 'one value' : columns === 1 ? `${rows} values` : `${rows} × ${columns} values`;
}

// —— units ——

/** Letters of one block carry its path, so that each instance has its own. */
function local(form: Inferred, path: string): Inferred {
  if (form === undefined || form.letters.size === 0) return form;
  return {
    dimension: form.dimension,
    letters: new Map([...form.letters].map(([letter, n]) => [`${path}:${letter}`, n])),
  };
}

function checkAllUnits(resolved: Resolved, findings: Finding[]): PortUnit {
  const solver = new UnitSolver();
  const told = new Set<string>();
  const byPath = new Map<string, BlockUnits>();
  const unitOf = (path: string, name: string): Inferred => local(byPath.get(path)?.unit(name), path);
  for (const instance of resolved.instances.values()) {
    const { flat, path } = instance;
    const units = checkUnits(flat.text, flat.inputs);
    byPath.set(path, units);
    for (const conflict of units.conflicts) {
      const key = `${flat.text.name}:${conflict.at.line}:${conflict.at.column}`;
      if (told.has(key)) continue;
      told.add(key);
      findings.push({
        id: 'units_in_block',
        level: 'error',
        at: { path, text: flat.text.name, line: conflict.at.line, column: conflict.at.column },
        facts: {
          left: unitWords(conflict.left),
          right: unitWords(conflict.right),
          ...cycles(conflict.left, conflict.right),
        },
      });
    }
    for (const [letter, form] of units.solutions) {
      const solved = local(form, path);
      if (solved !== undefined) solver.equate(letterForm(`${path}:${letter}`), solved);
    }
  }
  for (const instance of resolved.instances.values()) checkSettingUnits(instance, resolved, solver, findings);
  for (const instance of resolved.instances.values())
    for (const [input, source] of instance.flat.wires) {
      if (!byPath.has(source.path) || instance.signals.get(input)?.kind === 'bool') continue;
      const wanted = unitOf(instance.path, input);
      const got = unitOf(source.path, source.port);
      if (solver.equate(wanted ?? ONE, got ?? ONE)) continue;
      const [left, right] = [solver.reduce(wanted ?? ONE), solver.reduce(got ?? ONE)];
      findings.push({
        id: 'unit_mismatch',
        level: 'error',
        at: { path: `${instance.path}.${input}` },
        facts: {
          wanted: unitWords(left),
          got: unitWords(right),
          source: `${source.path}.${source.port}`,
          ...cycles(left, right),
        },
        notes: [{ at: { path: `${source.path}.${source.port}` }, text: `gives ${unitWords(right)}` }],
        repair: { label: 'Remove the wire', edits: [{ path: wireKeys(instance, input) }] },
      });
    }
  return (path, name) => {
    const form = unitOf(path, name);
    if (form === undefined) return '';
    return dimensionText(solver.reduce(form).dimension);
  };
}

function checkSettingUnits(instance: Instance, resolved: Resolved, solver: UnitSolver, findings: Finding[]): void {
  const { flat, path } = instance;
  const units = checkUnits(flat.text, flat.inputs);
  for (const setting of flat.text.settings) {
    const value = flat.set.get(setting.name);
    if (value === undefined) continue;
    const read = resolved.values.read(value);
    if ('id' in read || read.unit === undefined) continue;
    const declared = local(units.unit(setting.name), path) ?? ONE;
    if (solver.equate(declared, read.unit)) continue;
    const [left, right] = [solver.reduce(declared), solver.reduce(read.unit)];
    const repair = cyclesRepair(value, left, right, [...flat.keys, 'set', setting.name]);
    findings.push({
      id: 'setting_unit_mismatch',
      level: 'error',
      at: { path: `${path}.${setting.name}` },
      facts: { wanted: unitWords(left), got: unitWords(right), value: String(value), ...cycles(left, right) },
      ...(repair === undefined ? {} : { repair }),
    });
  }
}

const CYCLE = 7;

/** Whether two units differ by cycles alone: hertz where radians a second are meant, or the other way round. */
function cycleDifference(left: UnitForm, right: UnitForm): number | undefined {
  const rest = timesPower(left, right, -1);
  const cycle = rest.dimension[CYCLE] ?? 0;
  const without = { dimension: rest.dimension.map((x, i) => (i === CYCLE ? 0 : x)), letters: rest.letters };
  return cycle !== 0 && isOne(without) ? cycle : undefined;
}

function cycles(left: UnitForm, right: UnitForm): Record<string, string> {
  return cycleDifference(left, right) === undefined ? {} : { cycles: 'yes' };
}

function cyclesRepair(
  value: SettingValue,
  left: UnitForm,
  right: UnitForm,
  keys: readonly string[],
): Repair | undefined {
  if (typeof value !== 'string' || cycleDifference(left, right) !== -1) return undefined;
  const match = /^\s*([-+0-9.eE]+)\s*([kM]?)Hz\s*$/.exec(value);
  if (match === null) return undefined;
  const turns = `${match[1]}${match[2] === 'k' ? 'e3' : match[2] === 'M' ? 'e6' : ''}`;
  return { label: `Make it 2π · ${match[1]} rad/s`, edits: [{ path: keys, value: `2 * pi * ${turns} rad/s` }] };
}

function unitWords(form: UnitForm): string {
  const known = dimensionText(form.dimension);
  const letters = [...form.letters].map(
    ([letter, power]) => `${letter.split(':').at(-1)}${power === 1 ? '' : `^${power}`}`,
  );
  const words = [known, ...letters].filter((part) => part !== '').join(' ');
  return words === '' ? 'no unit' : words;
}
