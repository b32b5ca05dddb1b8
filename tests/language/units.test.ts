/** Units against the SI brochure, exact conversion against decimal arithmetic, durations against whole numbers. */

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { parseUnit } from '../../compiler/language/parser.ts';
import { decimalIn, shortest, shortestSingle, shownIn, wholePeriods } from '../../compiler/language/quantity.ts';
import { decimal, nearestDouble } from '../../compiler/language/rational.ts';
import type { UnitExpression } from '../../compiler/language/syntax.ts';
import { baseUnits, dimensionText, type KnownUnit, nearestUnits, unitOf } from '../../compiler/language/units.ts';

function unit(text: string): UnitExpression {
  const { value } = parseUnit(text);
  if (value === undefined) throw new Error(`${text} is not a unit`);
  return value;
}

function known(text: string): KnownUnit {
  const found = unitOf(unit(text));
  if ('unknown' in found) throw new Error(`${found.unknown} is unknown`);
  return found;
}

/** SI brochure, 9th edition (2019), tables 4 and 8: the unit, and the same in base units. */
const brochure: readonly (readonly [string, string, number])[] = [
  ['N', 'kg m/s^2', 1],
  ['Pa', 'kg/m s^2', 1],
  ['J', 'kg m^2/s^2', 1],
  ['W', 'kg m^2/s^3', 1],
  ['C', 'A s', 1],
  ['V', 'kg m^2/s^3 A', 1],
  ['F', 'A^2 s^4/kg m^2', 1],
  ['Ohm', 'kg m^2/s^3 A^2', 1],
  ['Wb', 'kg m^2/s^2 A', 1],
  ['T', 'kg/s^2 A', 1],
  ['H', 'kg m^2/s^2 A^2', 1],
  ['lx', 'cd/m^2', 1],
  ['min', 's', 60],
  ['h', 's', 3600],
  ['L', 'm^3', 1e-3],
  ['eV', 'J', 1.602176634e-19],
  ['g', 'kg', 1e-3],
  ['bar', 'Pa', 1e5],
  ['deg', 'rad', Math.PI / 180],
  ['mL/min', 'm^3/s', 1e-6 / 60],
];

test.each(brochure)('%s is %s times %f', (text, base, factor) => {
  expect(known(text).dimension).toEqual(known(base).dimension);
  expect(known(text).factor).toBe(factor);
});

test('the radian is nothing, the cycle is something', () => {
  expect(known('N m/A').dimension).toEqual(known('V s/rad').dimension);
  expect(known('Hz').dimension).not.toEqual(known('rad/s').dimension);
  expect(known('Hz').dimension[baseUnits.indexOf('cycle')]).toBe(1);
  expect(known('rpm')).toMatchObject({ factor: 0.10471975511965978, dimension: known('1/s').dimension });
});

test('letters stand for units to be solved', () => {
  expect(known('U/s Y2^2')).toMatchObject({ letters: { U: 1, Y2: -2 }, dimension: known('1/s').dimension });
  expect(nearestUnits('kilogram')).toEqual([]);
  expect(nearestUnits('Nm')[0]).toBe('N m');
  expect(nearestUnits('hz')).toContain('Hz');
});

test('a dimension in words', () => {
  for (const text of ['N m', 'rad/s', 'm/s^2', 'V', 'kg m^2', 'N m/A', 'J/kg K', 'Hz', '1', 'V/m', 'W/K'])
    expect(dimensionText(known(text).dimension)).toBe(text === 'N m/A' ? 'Wb' : text);
  expect(dimensionText(known('kg m^3/s^3 A').dimension)).toBe('V m');
  expect(dimensionText(known('K^2/mol').dimension)).toBe('K^2/mol');
});

describe('exact decimals', () => {
  test.each([
    ['20', 'ms', 0.02],
    ['0.1', 'ms', 1e-4],
    ['7', 'um', 7e-6],
    ['2.5', 'kHz', 2500],
    ['0.3', 'cm', 0.003],
    ['4.35', 'mV', 0.00435],
    ['33.3', 'percent', 0.333],
  ])('%s %s is the double nearest to it', (text, its, value) => {
    expect(decimalIn(text, unit(its))).toBe(value);
  });

  test('every double survives its shortest decimal', () => {
    fc.assert(
      fc.property(fc.double({ noNaN: true, noDefaultInfinity: true }), (value) => {
        const exact = decimal(shortest(value));
        expect(exact && nearestDouble(exact)).toBe(value === 0 ? 0 : value);
      }),
      { numRuns: 2000 },
    );
    for (const value of [5e-324, 2.2250738585072014e-308, 2.225073858507201e-308, Number.MAX_VALUE, 2 ** 53 + 2]) {
      const exact = decimal(String(value));
      expect(exact && nearestDouble(exact)).toBe(value);
    }
    expect(nearestDouble({ num: 2n ** 1024n, den: 1n })).toBe(Infinity);
    expect(nearestDouble({ num: -(2n ** 53n + 1n), den: 1n })).toBe(-(2 ** 53));
    expect(nearestDouble({ num: 2n ** 54n + 3n * 2n, den: 2n })).toBe(2 ** 53 + 4);
  });

  test('what was written in a unit is shown in it again', () => {
    const text = fc.tuple(fc.integer({ min: -99999, max: 99999 }), fc.integer({ min: -6, max: 3 }));
    fc.assert(
      fc.property(text, fc.constantFrom('deg', 'rpm', 'ms', 'percent', 'mL/min', 'g'), ([digits, exponent], its) => {
        const written = String(Number(`${digits}e${exponent}`));
        const value = decimalIn(written, unit(its));
        expect(value).toBeDefined();
        expect(shownIn(value ?? 0, unit(its))).toBe(written);
      }),
      { numRuns: 1000 },
    );
    expect(shownIn(Number.NaN, unit('deg'))).toBe('NaN');
  });

  test('single precision in its shortest decimals', () => {
    expect(shortestSingle(Math.fround(0.1))).toBe('0.1');
    expect(shortestSingle(-0)).toBe('-0');
    fc.assert(
      fc.property(fc.float({ noNaN: true, noDefaultInfinity: true }), (value) => {
        expect(Math.fround(Number(shortestSingle(value)))).toBe(value);
      }),
    );
  });
});

test('durations in whole periods, rounded up from exact decimals', () => {
  expect(wholePeriods(0.3, 0.1)).toBe(3); // 0.3 / 0.1 is 2.9999999999999996, and 0.1 · 3 is not 0.3
  expect(wholePeriods(0.6, 0.2)).toBe(3);
  expect(wholePeriods(1.1, 0.1)).toBe(11);
  expect(wholePeriods(0.301, 0.1)).toBe(4);
  expect(wholePeriods(0, 0.1)).toBe(0);
  expect(wholePeriods(-0.05, 0.1)).toBe(0);
  expect(wholePeriods(Infinity, 0.1)).toBe(Infinity);
  expect(wholePeriods(1, 0)).toBeNaN();
  fc.assert(
    fc.property(fc.integer({ min: 1, max: 1e6 }), fc.integer({ min: 1, max: 9999 }), (count, micro) => {
      const period = Number(`${micro}e-6`);
      const duration = Number(`${count * micro}e-6`);
      expect(wholePeriods(duration, period)).toBe(count);
      expect(wholePeriods(Number(`${count * micro * 10 + 1}e-7`), period)).toBe(count + 1);
    }),
  );
});
