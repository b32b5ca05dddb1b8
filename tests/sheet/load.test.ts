/** Each way a sheet's file can be wrong is said by its own finding, at its line and column. */

import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import type { Finding } from '../../compiler/findings.ts';
import { applyEdits } from '../../compiler/sheet/edits.ts';
import { loadSheet, MAX_SHEET_LENGTH } from '../../compiler/sheet/load.ts';
import { saveSheet } from '../../compiler/sheet/save.ts';
import { blankSheet, type Sheet } from '../../compiler/sheet/sheet.ts';
import { sheetWording } from '../../compiler/sheet/wording.ts';

/** The findings of a text that is no good sheet. */
function faults(text: string): readonly Finding[] {
  const found = loadSheet(text);
  expect(found.value).toBeUndefined();
  expect(found.findings.length).toBeGreaterThan(0);
  for (const finding of found.findings) {
    expect(finding.level).toBe('error');
    const words = sheetWording[finding.id]?.(finding.facts);
    expect(words?.full, finding.id).not.toContain('?');
    expect(words?.full).toMatch(/^\S.*; \S/);
    expect(words?.help.length).toBeGreaterThan(40);
  }
  return found.findings;
}

function oneFault(text: string): Finding {
  const findings = faults(text);
  expect(findings.map((finding) => finding.id)).toHaveLength(1);
  return findings[0] as Finding;
}

/** A sheet as text, with more keys after its first two lines. */
function sheetWith(rest: string): string {
  return `{\n  "loopwright": 1, "tick": "5 ms",\n${rest}\n}`;
}

describe('a file that is no JSON', () => {
  test('empty', () => {
    expect(oneFault('').id).toBe('sheet_empty');
    expect(oneFault(' \n\t').id).toBe('sheet_empty');
  });

  test.each([
    ['{ "loopwright": 1,\n "blocks": { "a": { "is": "ga', 2, 'blocks.a.is'],
    ['{ "loopwright": 1,\n "blocks": { "a": ', 2, 'blocks.a'],
    ['{ "loopwright": 1,\n "plant_steps": 1', 2, 'plant_steps'],
    ['{ "loopwright": 1,\n "title": "\\u00', 2, 'title'],
    ['{ "loopwright": 1', 1, 'loopwright'],
    ['{', 1, ''],
  ])('cut short: %j', (text, line, inside) => {
    const fault = oneFault(text);
    expect(fault).toMatchObject({ id: 'sheet_cut_short', at: { line, path: inside }, facts: { in: inside } });
  });

  test('every beginning of a good file is a file cut short', () => {
    const text = saveSheet({
      ...blankSheet('é'),
      blocks: { a: { is: 'gain', set: { gain: [-1.5e-9, true] } } },
    }).trimEnd();
    for (let length = 1; length < text.length; length++) {
      expect(oneFault(text.slice(0, length)).id).toBe('sheet_cut_short');
    }
  });

  test.each([
    ['{ "loopwright": 1,\n  "tick": 1,\n}', 3, 1, 'a key in quotes', '}'],
    ['{ "loopwright": 1\n  "tick": 1 }', 2, 3, 'a comma or }', '"tick":'],
    ['{ "loopwright": 1, tick: 1 }', 1, 20, 'a key in quotes', 'tick:'],
    ['{ "loopwright": 1 } x', 1, 21, 'the end of the file', 'x'],
    ['{ "loopwright": 01 }', 1, 18, 'a comma or }', '1'],
    ["{ 'loopwright': 1 }", 1, 3, 'a key in quotes', "'loopwright'"],
    ['{ "loopwright": NaN }', 1, 17, 'a value', 'NaN'],
    ['{ "title": "a\nb" }', 1, 14, 'a quote that ends the words', 'a line break'],
    ['{ "title": "\\x" }', 1, 13, 'an escape such as \\n or \\u0020', '\\x"'],
  ])('not JSON: %j', (text, line, column, wanted, found) => {
    expect(oneFault(text)).toMatchObject({ id: 'sheet_not_json', at: { line, column }, facts: { wanted, found } });
  });

  test('conflict markers have an error of their own that names the line', () => {
    const clean = saveSheet({ ...blankSheet(), wires: { 'a.u': 'b.y', 'c.u': 'd.y' } });
    const line = clean.split('\n').findIndex((row) => row.includes('a.u')) + 1;
    const merged = clean
      .replace('    "a.u"', '<<<<<<< HEAD\n    "a.u": "x.y",\n||||||| base\n=======\n    "a.u"')
      .replace('    "c.u"', '>>>>>>> other\n    "c.u"');
    expect(oneFault(merged)).toMatchObject({ id: 'sheet_conflict', at: { line }, facts: { mark: '<<<<<<<' } });
    expect(oneFault(merged.replaceAll('\n', '\r\n'))).toMatchObject({ id: 'sheet_conflict', at: { line } });
    const inTitle = saveSheet(blankSheet('<<<<<<< HEAD\n======='));
    expect(loadSheet(inTitle).findings).toEqual([]);
  });

  test('too deep', () => {
    expect(oneFault(`{"loopwright":1,"x":${'['.repeat(100_000)}`).id).toBe('sheet_too_deep');
  });

  test('too large, answered at once', () => {
    const began = process.cpuUsage().user / 1000;
    expect(oneFault(`{"title":"${' '.repeat(50_000_000)}"}`).id).toBe('sheet_too_large');
    expect(process.cpuUsage().user / 1000 - began).toBeLessThan(1_000);
    expect(MAX_SHEET_LENGTH).toBeLessThan(50_000_000);
  });

  test.each([
    ['wires that are numbers', (i: number) => `"a${i}.u":1`, 'wires'],
    ['blocks that are empty', (i: number) => `"a${i}":{}`, 'blocks'],
    ['settings in arrays', (i: number) => `"a${i}":{"is":"x","set":{"k":[[null],[{}]]}}`, 'blocks'],
    ['unknown keys', (i: number) => `"k${i}":0`, 'desk'],
    ['nudges of no form', (i: number) => `"k${i}":{"nudges":{"n":{"at":[]}}}`, 'runs'],
    ['repeated keys', () => '"a":"b.c"', 'wires'],
  ])('as large as may be, full of %s, answered in seconds', (_, entry, key) => {
    let text = `{"loopwright":1,"tick":1,"${key}":{"z":0`;
    const parts: string[] = [];
    for (let length = 0, i = 0; length < MAX_SHEET_LENGTH - 200 && i < 130_000; i++) {
      const part = entry(i);
      parts.push(part);
      length += part.length + 1;
    }
    text += `,${parts.join(',')}}}`;
    const began = process.cpuUsage().user / 1000;
    expect(faults(text).length).toBeLessThanOrEqual(80);
    expect(process.cpuUsage().user / 1000 - began).toBeLessThan(3_000);
  });
});

describe('JSON that is no sheet', () => {
  test.each([
    ['[]', 'sheet_not_record'],
    ['3', 'sheet_not_record'],
    ['{}', 'sheet_no_version'],
    ['{ "Loopwrigt": 1 }', 'sheet_no_version'],
    ['{ "loopwright": "1" }', 'sheet_bad_version'],
    ['{ "loopwright": 0 }', 'sheet_bad_version'],
    ['{ "loopwright": 2, "anything": {} }', 'sheet_newer'],
  ])('%s', (text, id) => {
    expect(oneFault(text).id).toBe(id);
  });

  test('an unknown key is named with the nearest known one, and the repair renames it', () => {
    const text = sheetWith('  "blocks": { "a": { "is": "gain",\n    "evry": 5 } }');
    const fault = oneFault(text);
    expect(fault).toMatchObject({
      id: 'unknown_key',
      at: { path: 'blocks.a.evry', line: 4, column: 5 },
      facts: { key: '"evry"', near: 'every' },
    });
    const mended = applyEdits(JSON.parse(text) as Sheet, fault.repair?.edits ?? []);
    expect(loadSheet(JSON.stringify(mended)).value?.blocks.a).toEqual({ is: 'gain', every: 5 });
  });

  test('a misspelt key that must be there is said once', () => {
    const fault = oneFault(sheetWith('"runs": { "r": { "nudges": { "n": { "at": 1, "port": "a.b", "ad": 2 } } } }'));
    expect(fault).toMatchObject({ id: 'unknown_key', facts: { near: 'add' } });
  });

  test.each([
    ['"blocks": { "a": {} }', 'missing_key', 'blocks.a'],
    ['"blocks": { "a b": { "is": "gain" } }', 'bad_name', 'blocks.a b'],
    ['"blocks": { "2a": { "is": "gain" } }', 'bad_name', 'blocks.2a'],
    ['"blocks": { "": { "is": "gain" } }', 'bad_name', 'blocks.'],
    ['"blocks": { "a": { "is": "g-n" } }', 'wrong_value', 'blocks.a.is'],
    ['"blocks": { "a": { "is": "gain", "every": 0 } }', 'wrong_value', 'blocks.a.every'],
    ['"blocks": { "a": { "is": "gain", "every": 2.5 } }', 'wrong_value', 'blocks.a.every'],
    ['"blocks": { "a": { "is": "gain", "side": "left" } }', 'wrong_value', 'blocks.a.side'],
    ['"blocks": { "a": { "is": "gain", "set": { "k": null } } }', 'wrong_value', 'blocks.a.set.k'],
    ['"blocks": { "a": { "is": "gain", "set": { "k": [1, [2, {}]] } } }', 'wrong_value', 'blocks.a.set.k.1.1'],
    ['"blocks": []', 'wrong_value', 'blocks'],
    ['"wires": { "a": 3 }', 'wrong_value', 'wires.a'],
    ['"wires": { "a.u": "b..y" }', 'wrong_value', 'wires.a.u'],
    ['"wires": { "a.u": "b.y[x]" }', 'wrong_value', 'wires.a.u'],
    ['"number": "f16"', 'wrong_value', 'number'],
    ['"plant_steps": 0', 'wrong_value', 'plant_steps'],
    ['"names": { "k": 1e999 }', 'wrong_value', 'names.k'],
    ['"layout": { "a": [1] }', 'wrong_value', 'layout.a'],
    ['"layout": { "a": { "at": [1, 2], "flap": true } }', 'unknown_key', 'layout.a.flap'],
    ['"runs": { "r": { "nudges": { "n": { "port": "a.b", "add": 1 } } } }', 'missing_key', 'runs.r.nudges.n'],
    ['"runs": { "r": { "nudges": { "n": 1 } } }', 'wrong_value', 'runs.r.nudges.n'],
    ['"runs": { "r": { "seed": -1 } }', 'wrong_value', 'runs.r.seed'],
    ['"shelf": { "g": { "ports": { "u": { "into": "" } } } }', 'unknown_key', 'shelf.g.ports.u.into'],
    ['"desk": { "pin": {} }', 'unknown_key', 'desk.pin'],
  ])('%s', (rest, id, path) => {
    expect(oneFault(sheetWith(rest))).toMatchObject({ id, at: { path, line: 3 } });
  });

  test('a name twice is an error that says where the first is', () => {
    const fault = oneFault(sheetWith('"wires": { "a.u": "b.y",\n"a.u": "c.y" }'));
    expect(fault).toMatchObject({ id: 'duplicate_key', at: { line: 4, column: 1 }, facts: { line: '3' } });
  });

  test.each([
    '"blocks": { "__proto__": { "is": "gain" } }',
    '"blocks": { "constructor": { "is": "gain" } }',
    '"wires": { "prototype": "a.b" }',
    '"wires": { "a.u": "a.constructor" }',
    '"blocks": { "a": { "is": "toString" } }',
    '"blocks": { "a": { "is": "gain", "set": { "__proto__": { "polluted": 1 } } } }',
    '"runs": { "r": { "record": ["hasOwnProperty.x"] } }',
  ])('a name that reaches into the program is refused: %s', (rest) => {
    expect(faults(sheetWith(rest)).map((fault) => fault.id)).toContain('reserved_name');
    expect(({} as { polluted?: number }).polluted).toBeUndefined();
  });

  test('many faults are said together, and not more than can be read', () => {
    const blocks = Array.from({ length: 500 }, (_, i) => `"b${i}": { "is": ${i} }`).join(',');
    expect(faults(sheetWith(`"blocks": { ${blocks} }`))).toHaveLength(50);
  });

  test('more blocks than a sheet may hold', () => {
    const blocks = Array.from({ length: 20_001 }, (_, i) => `"b${i}":{"is":"gain"}`).join(',');
    expect(oneFault(sheetWith(`"blocks": { ${blocks} }`))).toMatchObject({ id: 'sheet_too_many' });
  });
});

test('the example in the specification is a sheet in its canonical form', () => {
  const page = readFileSync(new URL('../../compiler/sheet/README.md', import.meta.url), 'utf8');
  const [, example = ''] = /```json\n([\s\S]*?)```/.exec(page) ?? [];
  const found = loadSheet(example);
  expect(found.findings).toEqual([]);
  expect(found.value === undefined ? '' : saveSheet(found.value)).toBe(example);
});

test('every finding about files is fired by a test here, and its words are whole', () => {
  const tests = ['load', 'csv']
    .map((name) => readFileSync(new URL(`${name}.test.ts`, import.meta.url), 'utf8'))
    .join('');
  expect(Object.keys(sheetWording).filter((id) => !tests.includes(`'${id}'`))).toEqual([]);
});
