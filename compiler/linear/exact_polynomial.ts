/** Polynomials with whole-number coefficients of any length: what a list of doubles says exactly, up to a factor. */

/** Descending powers without leading zeros; [] is 0. */
export type Exact = readonly bigint[];

/** The coefficients times the power of two that makes them whole. */
export function exactOf(coefficients: readonly number[]): Exact {
  const parts = coefficients.map(wholeAndExponent);
  const least = Math.min(...parts.map(([whole, exponent]) => (whole === 0n ? Number.POSITIVE_INFINITY : exponent)));
  return shortened(parts.map(([whole, exponent]) => (whole === 0n ? 0n : whole << BigInt(exponent - least))));
}

/** A double as whole · 2^exponent. */
function wholeAndExponent(value: number): [bigint, number] {
  let exponent = 0;
  let whole = value;
  if (value === 0 || !Number.isFinite(value)) return [0n, 0];
  const level = Math.max(Math.floor(Math.log2(Math.abs(value))), -1022);
  exponent = level - 54;
  // In two steps, so that neither factor overflows.
  whole = value * 2 ** -Math.trunc(exponent / 2) * 2 ** -(exponent - Math.trunc(exponent / 2));
  return [BigInt(whole), exponent];
}

export function shortened(a: Exact): Exact {
  const first = a.findIndex((c) => c !== 0n);
  return first < 0 ? [] : a.slice(first);
}

export function derivativeExact(a: Exact): Exact {
  const n = a.length - 1;
  return a.slice(0, Math.max(0, n)).map((c, i) => c * BigInt(n - i));
}

/** Divides out a power of two that all coefficients share, and keeps the sign. */
function lighter(a: Exact): Exact {
  const joined = a.reduce((bits, c) => bits | c, 0n);
  if (joined === 0n) return [];
  const shift = BigInt((joined & -joined).toString(2).length - 1);
  return shift === 0n ? a : a.map((c) => c >> shift);
}

/** Minus the remainder of a by b, times a positive number. */
function negatedRemainder(a: Exact, b: Exact): Exact {
  const lead = b[0] ?? 1n;
  const size = lead < 0n ? -lead : lead;
  let rest = a;
  while (rest.length >= b.length) {
    const head = (rest[0] ?? 0n) * (lead < 0n ? -1n : 1n);
    const scaled = rest.map((c, i) => c * size - head * (b[i] ?? 0n));
    rest = shortened(scaled.slice(1));
  }
  return rest.map((c) => -c);
}

/** Greatest common divisor of the coefficients' sizes. */
function content(a: Exact): bigint {
  let divisor = 0n;
  for (const c of a) {
    let x = divisor;
    let y = c < 0n ? -c : c;
    while (y !== 0n) [x, y] = [y, x % y];
    divisor = x;
    if (divisor === 1n) break;
  }
  return divisor === 0n ? 1n : divisor;
}

function primitive(a: Exact): Exact {
  const light = lighter(a);
  const divisor = content(light);
  return divisor === 1n ? light : light.map((c) => c / divisor);
}

/** a, b and the negated remainders that follow (C. Sturm 1829); the last is their greatest common divisor. */
export function remainders(a: Exact, b: Exact): Exact[] {
  const chain: Exact[] = [primitive(a), primitive(b)];
  for (;;) {
    const [over, under] = [chain.at(-2) ?? [], chain.at(-1) ?? []];
    if (under.length === 0) return chain.slice(0, -1);
    chain.push(primitive(negatedRemainder(over, under)));
  }
}

/** a / b where b divides a exactly, up to a positive factor. */
export function quotientExact(a: Exact, b: Exact): Exact {
  const lead = b[0] ?? 1n;
  const size = lead < 0n ? -lead : lead;
  const made: bigint[] = [];
  let rest = [...a];
  while (rest.length >= b.length) {
    const head = (rest[0] ?? 0n) * (lead < 0n ? -1n : 1n);
    for (const [i, c] of made.entries()) made[i] = c * size;
    made.push(head);
    rest = rest.map((c, i) => c * size - head * (b[i] ?? 0n)).slice(1);
  }
  return primitive(made);
}

/** Changes of sign in a list, zeros left out. */
function changes(signs: readonly bigint[]): number {
  const clear = signs.filter((s) => s !== 0n).map((s) => s > 0n);
  return clear.filter((sign, i) => i > 0 && sign !== clear[i - 1]).length;
}

/** Signs at +∞, or at −∞, of each polynomial of a chain. */
function signsAtInfinity(chain: readonly Exact[], negative: boolean): bigint[] {
  return chain.map((a) => {
    const lead = a[0] ?? 0n;
    return negative && (a.length - 1) % 2 === 1 ? -lead : lead;
  });
}

/** Jumps of b/a from −∞ to +∞ less those from +∞ to −∞ along the real axis (A.-L. Cauchy's index). */
export function cauchyIndex(a: Exact, b: Exact): number {
  if (b.length === 0) return 0;
  const chain = remainders(a, b);
  return changes(signsAtInfinity(chain, true)) - changes(signsAtInfinity(chain, false));
}

/** Roots below 0, each as often as it occurs. */
export function negativeRoots(a: Exact): number {
  let count = 0;
  let rest = a;
  while (rest.length > 1) {
    const chain = remainders(rest, derivativeExact(rest));
    const atZero = chain.map((p) => p.at(-1) ?? 0n);
    count += changes(signsAtInfinity(chain, true)) - changes(atZero);
    rest = chain.at(-1) ?? [];
  }
  return count;
}
