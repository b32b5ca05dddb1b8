/**
 * The co-simulation unit: its descriptions against rules of FMI 3.0 (sections 2.4 and 2.5 and the schema files that the
 * standard comes with, https://fmi-standard.org/docs/3.0/), and its library in a small importer: the bits of the interpreter.
 */

import { execFileSync, spawnSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import type { CFile } from '../../compiler/c/lines.ts';
import { comparableSlots } from '../../compiler/c/prepare.ts';
import { patternOf } from '../../compiler/c/reference.ts';
import type { Request } from '../../compiler/c/targets/target.ts';
import { createInterpreter } from '../../compiler/ir/interpreter.ts';
import type { Program, Slot } from '../../compiler/ir/program.ts';
import { hasCommand } from '../agree/programs_c.ts';
import { emitFor, hasToolsFor, make, ran, requestFor, rowScout, withFiles } from './emitted.ts';
import { importer } from './importer_c.ts';
import { type Element, readXml } from './xml.ts';

const textOf = (files: readonly CFile[], name: string): string => files.find((file) => file.name === name)?.text ?? '';
const child = ({ children }: Element, name: string): Element => {
  const found = children.filter((one) => one.name === name);
  if (found.length !== 1 || found[0] === undefined) throw new Error(`${found.length} of ${name}`);
  return found[0];
};
const variablesOf = (root: Element): readonly Element[] => child(root, 'ModelVariables').children;

describe.each(['f32', 'f64'] as const)('descriptions in %s', (number) => {
  const made = requestFor(rowScout, 'stand_up', { number, for: '0.5 s' }).then((request) => ({
    request,
    files: emitFor('fmu', request),
  }));

  test('the model: parts in their order, attributes that the schema knows', async () => {
    const { files } = await made;
    const root = readXml(textOf(files, 'modelDescription.xml'));
    expect(root.name).toBe('fmiModelDescription');
    expect(root.attributes.fmiVersion).toMatch(/^3[.](0|[1-9][0-9]*)([.](0|[1-9][0-9]*))?(-.+)?$/);
    expect(root.attributes.modelName).toBe('Row scout');
    expect(root.attributes.instantiationToken).toMatch(/^\{[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}\}$/);
    const order = 'CoSimulation LogCategories DefaultExperiment ModelVariables ModelStructure';
    expect(root.children.map((one) => one.name).join(' ')).toBe(order);
    const unit = child(root, 'CoSimulation').attributes;
    // A C identifier: it begins the names of the functions.
    expect(unit.modelIdentifier).toMatch(/^[A-Za-z_][A-Za-z0-9_]*$/);
    expect(Number(unit.fixedInternalStepSize)).toBe(0.005);
    const known =
      'modelIdentifier canGetAndSetFMUState canSerializeFMUState canHandleVariableCommunicationStepSize fixedInternalStepSize';
    expect(Object.keys(unit).join(' ')).toBe(known);
    expect(Number(child(root, 'DefaultExperiment').attributes.stopTime)).toBe(0.5);
  });

  test('its variables: unique, one time, combinations that are allowed, starts where they must be', async () => {
    const { files, request } = await made;
    const root = readXml(textOf(files, 'modelDescription.xml'));
    const variables = variablesOf(root);
    const all = (name: string): string[] => variables.map((one) => one.attributes[name] ?? '');
    expect(new Set(all('name')).size).toBe(variables.length);
    expect(new Set(all('valueReference')).size).toBe(variables.length);
    for (const reference of all('valueReference')) expect(reference).toMatch(/^\d+$/);
    const times = variables.filter((one) => one.attributes.causality === 'independent');
    expect(times).toHaveLength(1);
    expect(times[0]?.name).toMatch(/^Float(32|64)$/);
    expect(times[0]?.attributes.variability).toBe('continuous');
    expect(times[0]?.attributes.start).toBeUndefined();

    // The table of allowed combinations in section 2.4.7 (from memory) for the four causalities used here.
    const allowed: Readonly<Record<string, readonly string[]>> = {
      input: ['discrete - start'],
      output: ['discrete exact start', 'discrete calculated -'],
      parameter: ['fixed exact start', 'tunable exact start'],
      local: ['discrete exact start', 'discrete calculated -'],
    };
    const types = ['Float32', 'Float64', 'Int32', 'Boolean'];
    for (const { name, attributes, children } of variables) {
      expect(types).toContain(name);
      const { causality = '', variability, initial = '-', start } = attributes;
      if (causality === 'independent') continue;
      expect(allowed[causality]).toContain(`${variability} ${initial} ${start === undefined ? '-' : 'start'}`);
      const [dimension] = children;
      const length = dimension === undefined ? 1 : Number(dimension.attributes.start);
      expect(length).toBeGreaterThan(0);
      if (start !== undefined) expect(start.split(' ')).toHaveLength(length);
      const lexical = name === 'Boolean' ? /^(true|false)$/ : /^(-?\d+(\.\d+)?(e[-+]?\d+)?|NaN|-?INF)$/;
      for (const value of start?.split(' ') ?? []) expect(value).toMatch(lexical);
    }
    const slots = request.program.slots;
    for (const [kind, causality] of [
      ['input', 'input'],
      ['output', 'output'],
    ] as const)
      expect(
        variables.filter((one) => one.attributes.causality === causality).map((one) => one.attributes.name),
      ).toEqual(slots.filter((slot) => slot.kind === kind).map((slot) => slot.name));
  });

  test('its structure lists every output once, and no initial unknowns where every output starts exactly', async () => {
    const root = readXml(textOf((await made).files, 'modelDescription.xml'));
    const outputs = variablesOf(root).filter((one) => one.attributes.causality === 'output');
    expect(child(root, 'ModelStructure').children).toEqual(
      outputs.map(({ attributes: { valueReference = '' } }) => ({
        name: 'Output',
        attributes: { valueReference },
        children: [],
      })),
    );
    for (const output of outputs) expect(output.attributes.initial).toBe('exact');
  });

  test('the build: the same version and identifier, sources that are there, one fallback', async () => {
    const { files } = await made;
    const root = readXml(textOf(files, 'modelDescription.xml'));
    const build = readXml(textOf(files, 'buildDescription.xml'));
    expect(build.name).toBe('fmiBuildDescription');
    expect(build.attributes.fmiVersion).toBe(root.attributes.fmiVersion);
    const platforms = build.children.map((one) => one.attributes.platform ?? '');
    expect(new Set(platforms).size).toBe(platforms.length);
    expect(platforms).toContain('');
    for (const configuration of build.children) {
      expect(configuration.name).toBe('BuildConfiguration');
      expect(configuration.attributes.modelIdentifier).toBe(child(root, 'CoSimulation').attributes.modelIdentifier);
      const sources = child(configuration, 'SourceFileSet');
      expect(sources.attributes.language).toBe('C99');
      for (const source of sources.children) expect(textOf(files, source.attributes.name ?? '')).not.toBe('');
    }
  });
});

test('another sheet, another width or another setting has another token', async () => {
  const token = async (...given: Parameters<typeof requestFor>) =>
    readXml(textOf(emitFor('fmu', await requestFor(...given)), 'modelDescription.xml')).attributes.instantiationToken;
  const tokens = [
    await token(rowScout, undefined),
    await token(rowScout, undefined, { number: 'f64' }),
    await token(rowScout, undefined, { change: { tick: '4 ms' } }),
    await token('first_loop/first_loop.sheet.json', undefined),
  ];
  expect(new Set(tokens).size).toBe(tokens.length);
  expect(await token(rowScout, undefined)).toBe(tokens[0]);
});

/** Builds the unit and the importer, and asks. */
async function asked<T>(request: Request, use: (ask: Ask, root: Element) => T | Promise<T>): Promise<T> {
  const files = emitFor('fmu', request);
  return withFiles(files, async (folder) => {
    expect(await make(folder)).toMatchObject({ status: 0, errors: '' });
    writeFileSync(join(folder, 'importer.c'), importer);
    const words = ['-std=c99', '-Wall', '-Wextra', '-Werror', 'importer.c', '-ldl', '-o', 'importer'];
    expect(await ran(folder, 'gcc', ...words)).toMatchObject({ status: 0, errors: '' });
    const ask: Ask = (lines) => {
      const run = spawnSync(join(folder, 'importer'), ['build/row_scout.so'], {
        cwd: folder,
        input: `${lines.join('\n')}\n`,
        encoding: 'utf8',
        maxBuffer: 1e9,
      });
      expect(run.status, run.stderr).toBe(0);
      return { answers: run.stdout.trimEnd().split('\n'), heard: run.stderr };
    };
    return use(ask, readXml(textOf(files, 'modelDescription.xml')));
  });
}

type Ask = (lines: readonly string[]) => { readonly answers: readonly string[]; readonly heard: string };

const hex = (slot: Slot, value: number): string => {
  const [low = 0, high] = patternOf(slot.type, value);
  return high === undefined ? low.toString(16) : ((BigInt(high) << 32n) | BigInt(low)).toString(16);
};

/** The variable of a slot, as `TYPE REFERENCE N`. */
function placeOf(root: Element, slot: Slot): string {
  const found = variablesOf(root).find((one) => one.attributes.name === slot.name);
  if (found === undefined) throw new Error(`${slot.name} is not a variable`);
  return `${found.name} ${found.attributes.valueReference} ${slot.length}`;
}

const tokenOf = (root: Element): string => root.attributes.instantiationToken ?? '';

describe.skipIf(!hasToolsFor('fmu'))('in an importer', () => {
  test.each([
    ['f32', 'single'],
    ['f64', 'single'],
    ['f32', 'layered'],
  ] as const)(
    '%s, %s: every value of every tick has the bits of the interpreter',
    async (number, schedule) => {
      const request = await requestFor(rowScout, 'stand_up', { number, for: '1 s', change: { schedule } });
      const { program, check } = request;
      const inputs = check?.reference.inputs ?? [];
      const ticks = check?.reference.ticks ?? 0;
      expect(ticks).toBe(200);
      const slots = comparableSlots(program, ['tick']);
      await asked(request, (ask, root) => {
        const lines = [`new 0 ${tokenOf(root)}`, 'begin 0 0 0', 'ready 0'];
        const expected: string[] = ['0', '0', '0'];
        const machine = createInterpreter(program);
        machine.start();
        for (let tick = 0; tick < ticks; tick++) {
          for (const { slot: id, numbers } of inputs) {
            const slot = slotOf(program, id);
            machine.write(id, numbers[tick] ?? 0);
            lines.push(`set 0 ${placeOf(root, slot)} ${hex(slot, numbers[tick] ?? 0)}`);
            expected.push('0');
          }
          machine.call('tick');
          lines.push(`step 0 ${tick * 0.005} 0.005`);
          expected.push(`0 ${((tick + 1) * 0.005).toPrecision(17).replace(/\.?0+$/, '')}`);
          for (const slot of slots) {
            lines.push(`get 0 ${placeOf(root, slot)}`);
            expected.push(['0', ...Array.from(machine.readAll(slot.id), (value) => hex(slot, value))].join(' '));
          }
        }
        const { answers } = ask(lines);
        const got = answers.map((answer, i) => (lines[i]?.startsWith('step') ? near(answer, expected[i]) : answer));
        expect(got.findIndex((answer, i) => answer !== expected[i])).toBe(-1);
        expect(got.length).toBe(expected.length);
      });
    },
    120_000,
  );

  test.skipIf(!hasCommand('clang'))('the static analyzers find nothing in it', async () => {
    await withFiles(emitFor('fmu', await requestFor(rowScout, undefined)), async (folder) => {
      const words = ['-std=c99', '-Wno-unused-parameter', '-c', 'fmu.c', '-o', 'fmu.o'];
      expect(await ran(folder, 'gcc', '-fanalyzer', ...words)).toMatchObject({ status: 0, errors: '' });
      expect(await ran(folder, 'clang', '--analyze', '-std=c99', 'fmu.c')).toMatchObject({ status: 0, errors: '' });
    });
  });

  test('two instances, whole ticks, states kept and set back, settings, and every call that the standard forbids', async () => {
    const request = await requestFor(rowScout, undefined);
    const at = (root: Element, name: string): string => {
      const slot = request.program.slots.find((one) => one.name === name);
      if (slot === undefined) throw new Error(name);
      return placeOf(root, slot);
    };
    await asked(request, (ask, root) => {
      const token = tokenOf(root);
      const [gyro, drive, setting] = [at(root, 'gyro'), at(root, 'drive'), at(root, 'lean.blend.keep')];
      const script: readonly (readonly [line: string, answer: string | RegExp])[] = [
        [`new 0 {other}`, '3'],
        [`new 0 ${token}`, '0'],
        [`new 1 ${token}`, '0'],
        ['ready 0', '3'],
        ['step 0 0 0.005', /^3 /],
        ['begin 0 1 0.5', '3'],
        ['begin 0 0 0.05', '0'],
        ['begin 0 0 0', '3'],
        [`get 0 ${drive}`, '0 0'],
        ['ready 0', '0'],
        // Steps of other lengths are refused and change nothing; so is what does not begin where the last one ended.
        ['step 0 0 0.004', '2 0'],
        ['step 0 0 0.0075', '2 0'],
        ['step 0 0 0', '2 0'],
        ['step 0 0 -0.005', '2 0'],
        ['step 0 0 nan', '2 0'],
        ['step 0 0.005 0.005', '3 0'],
        [`set 0 ${gyro} 3f000000`, '0'],
        ['step 0 0 0.01', '0 0.01'],
        ['step 0 0.01 0.005', /^0 0\.01(49|5)/],
        ['keep 0', '0'],
        ['bytes 0', /^0 \d{3,}$/],
        [`set 0 ${gyro} 3f800000`, '0'],
        ['step 0 0.015 0.005', /^0 0\.02/],
        ['back 0', '0'],
        [`get 0 ${gyro}`, '0 3f000000'],
        ['step 0 0.015 0.005', /^0 0\.02/],
        // Past the end that was set.
        ['step 0 0.02 0.04', /^3 0\.02/],
        // Outputs and memories are read only; settings can be changed between steps.
        [`set 0 ${drive} 0`, '3'],
        [`set 0 ${setting} 3f000000`, '0'],
        [`get 0 ${setting}`, '0 3f000000'],
        [`get 1 ${setting}`, /^0 (?!3f000000)/],
        ['get 0 Float64 99999 1', /^3/],
        [`get 0 ${gyro.replace('Float32', 'Int32')}`, /^3/],
        [`get 0 ${gyro.replace(/1$/, '2')}`, /^3/],
        ['get 0 Float64 0 1', /^0 3f94/],
        ['end 0', '0'],
        ['step 0 0.02 0.005', /^3/],
        [`set 0 ${gyro} 0`, '3'],
        ['reset 0', '0'],
        [`get 0 ${gyro}`, '0 0'],
        [`get 0 ${setting}`, /^0 (?!3f000000)/],
        ['begin 0 5 0', '0'],
        ['ready 0', '0'],
        ['step 0 5 0.005', '0 5.0049999999999999'],
        ['free 0', '0'],
        ['free 1', '0'],
      ];
      const { answers, heard } = ask(script.map(([line]) => line));
      for (const [i, [line, answer]] of script.entries())
        if (typeof answer === 'string') expect([line, answers[i]]).toEqual([line, answer]);
        else expect(answers[i], line).toMatch(answer);
      expect(heard).toContain('2 logStatusError: a step must be a whole number of ticks');
      expect(heard).toContain('3 logStatusError: the instantiation token is that of another unit');
    });
  }, 60_000);
});

/** A time that differs from the expected one by its last digits only is that one. */
function near(answer: string, expected = ''): string {
  const [status = '', time = ''] = answer.split(' ');
  const [, wanted = ''] = expected.split(' ');
  return Math.abs(Number(time) - Number(wanted)) < 1e-12 ? `${status} ${wanted}` : answer;
}

function slotOf(program: Program, id: number): Slot {
  const slot = program.slots[id];
  if (slot === undefined) throw new Error(`no slot ${id}`);
  return slot;
}

test.skipIf(!hasToolsFor('fmu') || !hasCommand('unzip'))(
  'make fmu packs it as section 2.5.1 asks; names begin with the unit in a static build',
  async () => {
    const files = emitFor('fmu', await requestFor(rowScout, undefined));
    await withFiles(files, async (folder) => {
      const packed = await make(folder, 'fmu');
      if (!hasCommand('zip')) {
        expect(packed.errors).toContain('zip is not here');
        return;
      }
      expect(packed.status).toBe(0);
      const names = execFileSync('unzip', ['-Z1', 'build/row_scout.fmu'], { cwd: folder, encoding: 'utf8' }).trim();
      const list = names.split('\n');
      expect(list.filter((name) => !name.startsWith('binaries/')).sort()).toEqual([
        'modelDescription.xml',
        'sources/buildDescription.xml',
        'sources/fmu.c',
        'sources/row_scout.c',
        'sources/row_scout.h',
      ]);
      expect(list.filter((name) => name.startsWith('binaries/'))).toEqual([
        expect.stringMatching(/^binaries\/(x86_64|aarch64)-linux\/row_scout\.so$/),
      ]);
      // Compression 8 or 0, needed version at most 2.0, and no encryption.
      const told = execFileSync('unzip', ['-Zv', 'build/row_scout.fmu'], { cwd: folder, encoding: 'utf8' });
      for (const [, method] of told.matchAll(/compression method: +(\S+)/g)) expect(method).toMatch(/deflated|none/);
      for (const [, version] of told.matchAll(/required to extract: +([\d.]+)/g))
        expect(Number(version)).toBeLessThan(2.1);
      expect(told).not.toMatch(/file security status: +encrypted/);

      expect(await ran(folder, 'gcc', '-std=c99', '-c', 'fmu.c', '-o', 'static.o')).toMatchObject({ status: 0 });
      const symbols = (await ran(folder, 'nm', '-g', '--defined-only', 'static.o')).output.match(/\w*fmi3\w+/g) ?? [];
      expect(symbols.length).toBe(75);
      for (const symbol of symbols) expect(symbol).toMatch(/^row_scout_fmi3[A-Z]/);
      const shared = await ran(folder, 'nm', '-D', '--defined-only', 'build/row_scout.so');
      expect(shared.output.match(/ T \w+/g)?.sort()).toEqual(
        symbols.map((symbol) => ` T ${symbol.replace('row_scout_', '')}`).sort(),
      );
    });
  },
  60_000,
);
