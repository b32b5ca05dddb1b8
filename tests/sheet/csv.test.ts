/** Tables: every bit comes back, and a bad file is named by line and column. */

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { csvLine, MAX_CSV_LENGTH, readCsv, valueText } from '../../compiler/sheet/csv.ts';
import { sheetWording } from '../../compiler/sheet/wording.ts';

describe('values as text', () => {
  test.each([
    [Math.fround(0.1), 'f32', '0.1'],
    [Math.fround(1 / 3), 'f32', '0.33333334'],
    [16_777_216, 'f32', '16777216'],
    [Math.fround(3.4028234663852886e38), 'f32', '3.4028235e+38'],
    [1.401298464324817e-45, 'f32', '1e-45'],
    [0.1, 'f64', '0.1'],
    [1 / 3, 'f64', '0.3333333333333333'],
    [5e-324, 'f64', '5e-324'],
    [-0, 'f32', '-0'],
    [Number.NaN, 'f64', 'nan'],
    [Number.NEGATIVE_INFINITY, 'f32', '-inf'],
    [1, 'bool', '1'],
    [-2_147_483_648, 'i32', '-2147483648'],
  ] as const)('%d as %s is %s', (value, type, text) => {
    expect(valueText(value, type)).toBe(text);
  });

  test('a single comes back to its bits, and no shorter decimal does', () => {
    fc.assert(
      fc.property(fc.float({ noNaN: true, noDefaultInfinity: true }), (value) => {
        const text = valueText(value, 'f32');
        expect(Object.is(Math.fround(Number(text)), value)).toBe(true);
        const digits = text
          .replace(/e.*/, '')
          .replace(/[-.]/g, '')
          .replace(/^0+|0+$/g, '').length;
        if (digits > 1) expect(Math.fround(Number(value.toPrecision(digits - 1)))).not.toBe(value);
      }),
      { numRuns: 5_000 },
    );
  });

  test('a double comes back to its bits', () => {
    fc.assert(
      fc.property(fc.double({ noNaN: true, noDefaultInfinity: true }), (value) => {
        expect(Object.is(Number(valueText(value, 'f64')), value)).toBe(true);
      }),
    );
  });

  // IEEE 754-2019, table 3.5: sign, exponent and fraction of 1, −2 and infinity.
  test.each([
    [1, 'f32', '3f800000'],
    [-2, 'f32', 'c0000000'],
    [Number.POSITIVE_INFINITY, 'f32', '7f800000'],
    [1, 'f64', '3ff0000000000000'],
    [-0, 'f64', '8000000000000000'],
    [Number.NaN, 'f32', '7fc00000'],
    [-Number.NaN, 'f64', '7ff8000000000000'],
    [1, 'bool', '1'],
  ] as const)('the bits of %d as %s', (value, type, text) => {
    expect(valueText(value, type, true)).toBe(text);
  });
});

describe('reading', () => {
  test('columns by name, whatever the line ends', () => {
    for (const end of ['\n', '\r\n', '\r']) {
      const found = readCsv(
        ['\ufefft, lean ,"a ""b"", c",note', '0,-1.5e-3,+2,x', '0.1,nan,-inf,"y, z"', '', ''].join(end),
        'log.csv',
        { wanted: ['t', 'lean'] },
      );
      expect(found.findings).toEqual([]);
      expect(found.value?.rows).toBe(2);
      expect([...(found.value?.columns ?? [])].map(([name, values]) => [name, [...values]])).toEqual([
        ['t', [0, 0.1]],
        ['lean', [-0.0015, Number.NaN]],
        ['a "b", c', [2, Number.NEGATIVE_INFINITY]],
      ]);
    }
  });

  test.each([
    ['', {}, 'csv_empty', undefined],
    ['t,a\n', {}, 'csv_empty', undefined],
    ['t,lean\n0,1\n', { wanted: ['leen'] }, 'csv_no_column', 1],
    ['t,t\n0,1\n', {}, 'csv_twice', 1],
    ['t,a\n0,1\n1\n', {}, 'csv_ragged', 3],
    ['t,a\n0,1\n1,2,3\n', {}, 'csv_ragged', 3],
    ['t,a\n0,1\n\n1,2\n', {}, 'csv_ragged', 3],
    ['t,a\n0,1\n1,2 m\n', {}, 'csv_not_number', 3],
    ['t,a\n0,\n', {}, 'csv_not_number', 2],
    ['t,a\n0,0x10\n', {}, 'csv_not_number', 2],
    ['t;a\n0;1\n', { wanted: ['a'] }, 'csv_no_column', 1],
    ['t,a\n0,1\n2,1\n1,1\n', {}, 'csv_backwards', 4],
    ['t,a\n0,1\nnan,1\n', {}, 'csv_backwards', 3],
  ])('%j is refused', (text, options, id, line) => {
    const found = readCsv(text, 'log.csv', options);
    expect(found.value).toBeUndefined();
    expect(found.findings).toHaveLength(1);
    expect(found.findings[0]).toMatchObject({ id, level: 'error' });
    expect(found.findings[0]?.at.line).toBe(line);
    const full = sheetWording[id]?.(found.findings[0]?.facts ?? {}).full;
    expect(full).toContain('log.csv');
    expect(full).not.toContain('?');
  });

  test('a table that is too long is refused at once', () => {
    const began = process.cpuUsage().user / 1000;
    const [finding] = readCsv(' '.repeat(MAX_CSV_LENGTH + 1), 'log.csv').findings;
    expect(process.cpuUsage().user / 1000 - began).toBeLessThan(1_000);
    expect(finding?.id).toBe('csv_too_large');
    expect(sheetWording.csv_too_large?.(finding?.facts ?? {}).full).toMatch(/^log\.csv has 64\.0 million characters/);
  });

  test('what is written is read again', () => {
    fc.assert(
      fc.property(fc.array(fc.double(), { minLength: 1 }), (numbers) => {
        const lines = numbers.map((value, i) => csvLine([String(i), String(i / 10), valueText(value, 'f64')]));
        const found = readCsv(csvLine(['tick', 't', 'b, "c"']) + lines.join(''), 'x.csv');
        expect([...(found.value?.columns.get('b, "c"') ?? [])]).toEqual(numbers);
        expect([...(found.value?.time ?? [])]).toEqual(numbers.map((_, i) => i / 10));
      }),
    );
  });

  test('the time of a row is its t, or what its first column says', () => {
    expect([...(readCsv('a,t\n5,0\n3,1\n', 'x.csv').value?.time ?? [])]).toEqual([0, 1]);
    expect([...(readCsv('s,a\n5,0\n6,1\n', 'x.csv').value?.time ?? [])]).toEqual([5, 6]);
    expect(readCsv('s,a\nfive,0\n', 'x.csv', { wanted: ['a'] }).findings[0]).toMatchObject({ id: 'csv_not_number' });
  });

  test('a long table is read in a moment', () => {
    const text = `t,a\n${Array.from({ length: 500_000 }, (_, i) => `${i},${i / 7}`).join('\n')}\n`;
    const began = process.cpuUsage().user / 1000;
    expect(readCsv(text, 'long.csv').value?.rows).toBe(500_000);
    expect(process.cpuUsage().user / 1000 - began).toBeLessThan(4_000);
  });
});
