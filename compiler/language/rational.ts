/** Exact fractions, and the one way from them to the nearest double: what makes `20 ms` the double nearest to 0.02. */

/** A fraction with a positive denominator; not necessarily in lowest terms. */
export interface Rational {
  readonly num: bigint;
  readonly den: bigint;
}

export const one: Rational = { num: 1n, den: 1n };

/** Largest power of ten a decimal may carry; every finite double lies well within. */
const widestExponent = 400;
const longestDecimal = 120;

/** The exact value of a decimal such as `-12.5e-3`; undefined if it is none, or too long or large to be worth it. */
export function decimal(text: string): Rational | undefined {
  if (text.length > longestDecimal) return undefined;
  const parts = /^(-?)(\d*)(?:\.(\d*))?(?:[eE]([+-]?\d+))?$/.exec(text);
  if (parts === null) return undefined;
  const digits = `${parts[2] ?? ''}${parts[3] ?? ''}`;
  const exponent = Number(parts[4] ?? '0') - (parts[3]?.length ?? 0);
  if (digits === '' || Math.abs(exponent) > widestExponent) return undefined;
  const whole = BigInt(digits) * (parts[1] === '-' ? -1n : 1n);
  return exponent < 0
    ? { num: whole, den: 10n ** BigInt(-exponent) }
    : { num: whole * 10n ** BigInt(exponent), den: 1n };
}

/** The exact value of the shortest decimal that reads back as `value`, which must be finite. */
export function shortestDecimal(value: number): Rational {
  const exact = decimal(String(value));
  if (exact === undefined) throw new Error(`${value} is not a finite number`);
  return exact;
}

export function multiply(a: Rational, b: Rational): Rational {
  return { num: a.num * b.num, den: a.den * b.den };
}

/** `b` must not be zero. */
export function divide(a: Rational, b: Rational): Rational {
  const sign = b.num < 0n ? -1n : 1n;
  return { num: a.num * b.den * sign, den: a.den * b.num * sign };
}

/** `a` to a whole power. */
export function power(a: Rational, exponent: number): Rational {
  const n = BigInt(Math.abs(exponent));
  const raised = { num: a.num ** n, den: a.den ** n };
  return exponent < 0 ? divide(one, raised) : raised;
}

/** The least whole number that is at least `a`. */
export function ceiling(a: Rational): bigint {
  const quotient = a.num / a.den;
  return a.num > quotient * a.den ? quotient + 1n : quotient;
}

function bitLength(x: bigint): number {
  const hex = x.toString(16);
  return hex.length * 4 - (Math.clz32(Number.parseInt(hex[0] ?? '0', 16)) - 28);
}

/** The double nearest to `a`, ties to even; infinite if it is too large. */
export function nearestDouble(a: Rational): number {
  if (a.num === 0n) return 0;
  const negative = a.num < 0n;
  const num = negative ? -a.num : a.num;
  const guess = bitLength(num) - bitLength(a.den);
  const reaches = guess >= 0 ? num >= a.den << BigInt(guess) : num << BigInt(-guess) >= a.den;
  const leading = reaches ? guess : guess - 1;
  const lastPlace = Math.max(leading - 52, -1074);
  const scaledNum = lastPlace < 0 ? num << BigInt(-lastPlace) : num;
  const scaledDen = lastPlace > 0 ? a.den << BigInt(lastPlace) : a.den;
  let mantissa = scaledNum / scaledDen;
  const twiceRest = (scaledNum - mantissa * scaledDen) * 2n;
  if (twiceRest > scaledDen || (twiceRest === scaledDen && (mantissa & 1n) === 1n)) mantissa += 1n;
  if (lastPlace + 52 > 1023) return negative ? -Infinity : Infinity;
  const bits = (BigInt(lastPlace + 1074) << 52n) + mantissa;
  const view = new DataView(new ArrayBuffer(8));
  view.setBigUint64(0, bits);
  const magnitude = view.getFloat64(0);
  return negative ? -magnitude : magnitude;
}
