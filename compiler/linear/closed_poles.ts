/** Poles of a closed loop from the factors of the open one, which are never multiplied out but to find a start. */

import { add2, double2, exactProduct } from './double_double.ts';
import { fromRoots, scaled, sum, trimmed } from './polynomial.ts';
import { ehrlichAberth, inPairs, type NewtonStep, ordered, pairUp, roots, startingPoints } from './roots.ts';
import type { Complex, Factored, TransferFunction } from './system.ts';

type Factors = Pick<Factored, 'zeros' | 'poles' | 'gain'>;

/** Poles of L·factor / (1 + L·factor). Fewer than of L where the loop's gain at infinity is exactly −1. */
export function closedPoles({ zeros, poles, gain }: Factors, factor: number): Complex[] {
  const drive = gain * factor;
  if (drive === 0) return ordered(poles);
  const apart = withoutTwins(zeros, poles);
  const { re, im } = start(apart.zeros, apart.poles, drive);
  ehrlichAberth(re, im, closedStep(partsOf(apart.zeros), partsOf(apart.poles), drive), 200);
  return ordered([...inPairs(re, im), ...apart.twins]);
}

/**
 * The same for many factors, each started from the poles at the one before: moves `re` and `im`, which keep their order as
 * far as they can be told apart. Zeros and poles must have no exactly equal ones.
 */
export function follower(zeros: readonly Complex[], poles: readonly Complex[], gain: number) {
  const [zeroParts, poleParts] = [partsOf(zeros), partsOf(poles)];
  return (re: Float64Array, im: Float64Array, factor: number): void => {
    const step = closedStep(zeroParts, poleParts, gain * factor);
    const [fromRe, fromIm] = [re.slice(), im.slice()];
    if (newton(re, im, step)) return;
    const n = re.length;
    // Off the axis and off each other's mirror image, or branches could neither meet nor part.
    for (let i = 0; i < n; i++) {
      let room = Number.POSITIVE_INFINITY;
      for (let j = 0; j < n; j++) {
        if (j === i) continue;
        const a = (fromRe[i] as number) - (fromRe[j] as number);
        const b = (fromIm[i] as number) - (fromIm[j] as number);
        room = Math.min(room, a * a + b * b);
      }
      const size = Math.hypot(fromRe[i] as number, fromIm[i] as number);
      const aside = 0.02 * (Number.isFinite(room) ? Math.max(Math.sqrt(room), 1e-6 * size) : size || 1);
      re[i] = (fromRe[i] as number) + aside * Math.cos(i + 0.7);
      im[i] = (fromIm[i] as number) + aside * Math.sin(i + 0.7);
    }
    ehrlichAberth(re, im, step, 100);
    pairUp(re, im);
  };
}

/**
 * Newton's iteration for each root by itself, of pairs only the one above the axis; false where it does not settle or two
 * come to the same place. Pairs must be exact.
 */
function newton(re: Float64Array, im: Float64Array, step: NewtonStep): boolean {
  const n = re.length;
  const out = new Float64Array(3);
  const mirror = new Int32Array(n).fill(-1);
  for (let i = 0; i < n; i++) {
    if ((im[i] as number) <= 0) continue;
    for (let j = 0; j < n; j++) {
      if (mirror[j] === -1 && re[j] === re[i] && im[j] === -(im[i] as number)) {
        mirror[j] = i;
        break;
      }
    }
  }
  for (let i = 0; i < n; i++) {
    if (mirror[i] !== -1) continue;
    let x = re[i] as number;
    let y = im[i] as number;
    const isReal = y === 0;
    let settled = false;
    for (let round = 0; round < 8 && !settled; round++) {
      step(x, y, out);
      if (out[2] === 1) settled = true;
      else {
        x -= out[0] as number;
        if (!isReal) y -= out[1] as number;
        // Newton squares what is left, so the next step would be below rounding.
        const moved = Math.abs(out[0] as number) + Math.abs(out[1] as number);
        settled = moved <= 1e-9 * (Math.abs(x) + Math.abs(y));
      }
    }
    if (!settled || !Number.isFinite(x)) return false;
    re[i] = x;
    im[i] = y;
  }
  for (let i = 0; i < n; i++) {
    const m = mirror[i] as number;
    if (m === -1) continue;
    re[i] = re[m] as number;
    im[i] = -(im[m] as number);
  }
  for (let i = 1; i < n; i++) {
    const x = re[i] as number;
    const y = im[i] as number;
    const near = 1e-14 * (x * x + y * y);
    for (let j = 0; j < i; j++) {
      if ((x - (re[j] as number)) ** 2 + (y - (im[j] as number)) ** 2 <= near) return false;
    }
  }
  return true;
}

/** The same from coefficients, den + factor·num, without rounding them. */
export function closedPolesOf({ num, den }: Pick<TransferFunction, 'num' | 'den'>, factor: number): Complex[] {
  const length = Math.max(num.length, den.length);
  const both = Array.from({ length }, (_, i) => {
    const part = exactProduct(factor, num[i - length + num.length] ?? 0);
    return add2(part, double2(den[i - length + den.length] ?? 0));
  });
  return roots(
    both.map(({ hi }) => hi),
    both.map(({ lo }) => lo),
  );
}

/** Zeros and poles apart from those in exactly equal pairs, `twins`. */
export function withoutTwins(zeros: readonly Complex[], poles: readonly Complex[]) {
  const left = [...zeros];
  const twins: Complex[] = [];
  const rest: Complex[] = [];
  for (const pole of poles) {
    let twin = 0;
    while (twin < left.length && (left[twin]?.re !== pole.re || left[twin]?.im !== pole.im)) twin++;
    if (twin === left.length) rest.push(pole);
    else twins.push(...left.splice(twin, 1));
  }
  return { zeros: left, poles: rest, twins };
}

/** Starting points from coefficients about the middle of the poles, in units of their spread. */
function start(zeros: readonly Complex[], poles: readonly Complex[], drive: number) {
  const n = poles.length;
  const middle = poles.reduce((total, pole) => total + pole.re, 0) / (n || 1);
  const furthest = Math.max(...poles.map((pole) => Math.hypot(pole.re - middle, pole.im)), 1e-3 * Math.abs(middle));
  const spread = furthest > 1e-150 ? furthest : 1;
  const unit = 2 ** Math.round(Math.log2(spread));
  const moved = (list: readonly Complex[]) => list.map(({ re, im }) => ({ re: (re - middle) / unit, im: im / unit }));
  const share = drive * unit ** (zeros.length - n);
  const closed = sum(fromRoots(moved(poles)), scaled(fromRoots(moved(zeros)), share));
  // A gain of −1 at infinity takes poles there.
  if (zeros.length === n && Math.abs(1 + drive) < 1e-14) closed[0] = 0;
  const { re, im } = startingPoints(trimmed(closed));
  for (let i = 0; i < re.length; i++) {
    re[i] = (re[i] ?? 0) * unit + middle;
    im[i] = (im[i] ?? 0) * unit;
  }
  return { re, im };
}

export interface Parts {
  readonly re: readonly number[];
  readonly im: readonly number[];
}

/** Real and imaginary parts, ready for arithmetic; real parts counted from `from`. */
export function partsOf(list: readonly Complex[], from = 0): Parts {
  const re: number[] = [];
  const im: number[] = [];
  for (const point of list) {
    re.push(point.re - from);
    im.push(point.im);
  }
  return { re, im };
}

/** Newton's step of Π(s − pole) + drive·Π(s − zero), by way of L and the sums of 1/(s − pole) and 1/(s − zero). */
function closedStep({ re: zr, im: zi }: Parts, { re: pr, im: pi }: Parts, drive: number): NewtonStep {
  const [nz, np] = [zr.length, pr.length];
  // Each factor may be off by a few roundings.
  const margin = 2 ** -53 * 4 * (nz + np + 1);
  return (x, y, out) => {
    let lr = drive;
    let li = 0;
    let psr = 0;
    let psi = 0;
    let zsr = 0;
    let zsi = 0;
    for (let i = 0; i < np; i++) {
      let a = x - (pr[i] as number);
      const b = y - (pi[i] as number);
      if (a === 0 && b === 0) a = Number.EPSILON * (Math.hypot(x, y) || 1e-300);
      const square = 1 / (a * a + b * b);
      const ir = a * square;
      const ii = -b * square;
      psr += ir;
      psi += ii;
      const t = lr * ir - li * ii;
      li = lr * ii + li * ir;
      lr = t;
      if (i < nz) {
        let c = x - (zr[i] as number);
        const d = y - (zi[i] as number);
        if (c === 0 && d === 0) c = Number.EPSILON * (Math.hypot(x, y) || 1e-300);
        const size = 1 / (c * c + d * d);
        zsr += c * size;
        zsi -= d * size;
        const u = lr * c - li * d;
        li = lr * d + li * c;
        lr = u;
      }
    }
    const fr = 1 + lr;
    const fi = li;
    out[2] = fr * fr + fi * fi <= margin * margin * (1 + lr * lr + li * li) ? 1 : 0;
    const gr = psr + lr * zsr - li * zsi;
    const gi = psi + lr * zsi + li * zsr;
    const g = gr * gr + gi * gi;
    out[0] = (fr * gr + fi * gi) / g;
    out[1] = (fi * gr - fr * gi) / g;
  };
}
