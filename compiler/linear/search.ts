/** Zeros and smallest values of functions of one number, between places where they are known to be (R. P. Brent 1973). */

/** A zero of `f` between `a` and `b`, where it has unlike signs; to the last bits of its place. */
export function zeroBetween(f: (x: number) => number, a: number, b: number, atA = f(a), atB = f(b)): number {
  let [x, y, fx, fy] = [a, b, atA, atB];
  if (fx === 0) return x;
  if (fy === 0) return y;
  let [c, fc] = [x, fx];
  let step = y - x;
  let before = step;
  for (let i = 0; i < 200; i++) {
    if (fy > 0 === fc > 0) {
      c = x;
      fc = fx;
      step = y - x;
      before = step;
    }
    if (Math.abs(fc) < Math.abs(fy)) {
      [x, y, c] = [y, c, y];
      [fx, fy, fc] = [fy, fc, fy];
    }
    const least = 2 ** -52 * Math.abs(y);
    const half = (c - y) / 2;
    if (Math.abs(half) <= least || fy === 0) return y;
    if (Math.abs(before) >= least && Math.abs(fx) > Math.abs(fy)) {
      // Secant, or the inverse parabola through three points.
      const s = fy / fx;
      let p: number;
      let q: number;
      if (x === c) {
        p = 2 * half * s;
        q = 1 - s;
      } else {
        const r = fy / fc;
        const t = fx / fc;
        p = s * (2 * half * t * (t - r) - (y - x) * (r - 1));
        q = (t - 1) * (r - 1) * (s - 1);
      }
      if (p > 0) q = -q;
      else p = -p;
      if (2 * p < Math.min(3 * half * q - Math.abs(least * q), Math.abs(before * q))) {
        before = step;
        step = p / q;
      } else {
        step = half;
        before = step;
      }
    } else {
      step = half;
      before = step;
    }
    x = y;
    fx = fy;
    y += Math.abs(step) > least ? step : half > 0 ? least : -least;
    fy = f(y);
  }
  return y;
}

const GOLDEN = (3 - Math.sqrt(5)) / 2;

/** Where `f` is smallest between `a` and `b`, which must enclose one such place; `middle` is a first guess. */
export function smallestBetween(
  f: (x: number) => number,
  a: number,
  b: number,
  middle: number,
): { x: number; value: number } {
  let [low, high] = [a, b];
  let [x, w, v] = [middle, middle, middle];
  let [fx, fw, fv] = [f(x), 0, 0];
  fw = fx;
  fv = fx;
  // About its smallest value a function changes with the square of the distance.
  const least = 1e-6 * (b - a);
  let step = 0;
  let before = 0;
  for (let i = 0; i < 100; i++) {
    const centre = (low + high) / 2;
    if (Math.abs(x - centre) <= 2 * least - (high - low) / 2) break;
    let golden = true;
    if (Math.abs(before) > least) {
      const r = (x - w) * (fx - fv);
      let q = (x - v) * (fx - fw);
      let p = (x - v) * q - (x - w) * r;
      q = 2 * (q - r);
      if (q > 0) p = -p;
      q = Math.abs(q);
      const last = before;
      before = step;
      if (Math.abs(p) < Math.abs((q * last) / 2) && p > q * (low - x) && p < q * (high - x)) {
        step = p / q;
        const u = x + step;
        if (u - low < 2 * least || high - u < 2 * least) step = centre > x ? least : -least;
        golden = false;
      }
    }
    if (golden) {
      before = x < centre ? high - x : low - x;
      step = GOLDEN * before;
    }
    const u = x + (Math.abs(step) >= least ? step : step > 0 ? least : -least);
    const fu = f(u);
    if (fu <= fx) {
      if (u < x) high = x;
      else low = x;
      [v, w, x] = [w, x, u];
      [fv, fw, fx] = [fw, fx, fu];
    } else {
      if (u < x) low = u;
      else high = u;
      if (fu <= fw || w === x) {
        [v, w] = [w, u];
        [fv, fw] = [fw, fu];
      } else if (fu <= fv || v === x || v === w) {
        v = u;
        fv = fu;
      }
    }
  }
  return { x, value: fx };
}
