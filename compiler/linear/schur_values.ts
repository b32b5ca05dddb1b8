/**
 * Eigenvalues alone of a small dense matrix by double-shifted QR steps (J. G. F. Francis 1961; after EISPACK's orthes and
 * hqr): a third of the work of a library's decomposition, which finds the vectors too.
 */

/** Steps for one eigenvalue after which it is given up. */
const MOST_STEPS = 90;

/**
 * Real and imaginary parts of the eigenvalues of an n × n matrix, row after row in `a`, which is spoiled; pairs are exact.
 * Undefined where the steps come to no end.
 */
export function schurValues(a: Float64Array, n: number): { re: Float64Array; im: Float64Array } | undefined {
  toHessenberg(a, n);
  const re = new Float64Array(n);
  const im = new Float64Array(n);
  let size = 0;
  for (let i = 0; i < n; i++) for (let j = Math.max(i - 1, 0); j < n; j++) size += Math.abs(a[i * n + j] as number);
  let last = n - 1;
  let shifted = 0;
  let steps = 0;
  while (last >= 0) {
    const first = activeFrom(a, n, last, size);
    let x = a[last * n + last] as number;
    if (first === last) {
      re[last] = x + shifted;
      last--;
      steps = 0;
      continue;
    }
    let y = a[(last - 1) * n + last - 1] as number;
    let w = (a[last * n + last - 1] as number) * (a[(last - 1) * n + last] as number);
    if (first === last - 1) {
      const p = 0.5 * (y - x);
      const q = p * p + w;
      const root = Math.sqrt(Math.abs(q));
      x += shifted;
      if (q >= 0) {
        const z = p + (p >= 0 ? root : -root);
        re[last - 1] = x + z;
        re[last] = z === 0 ? x + z : x - w / z;
      } else {
        re[last - 1] = x + p;
        re[last] = x + p;
        im[last - 1] = root;
        im[last] = -root;
      }
      last -= 2;
      steps = 0;
      continue;
    }
    if (steps === MOST_STEPS) return undefined;
    if (steps % 10 === 0 && steps > 0) {
      // Going round in circles: an unusual shift.
      shifted += x;
      for (let i = 0; i <= last; i++) a[i * n + i] = (a[i * n + i] as number) - x;
      const s = Math.abs(a[last * n + last - 1] as number) + Math.abs(a[(last - 1) * n + last - 2] as number);
      x = 0.75 * s;
      y = x;
      w = -0.4375 * s * s;
    }
    steps++;
    francisStep(a, n, first, last, x, y, w);
  }
  return { re, im };
}

/** Reflections from both sides that leave one line below the diagonal. */
function toHessenberg(a: Float64Array, n: number): void {
  const v = new Float64Array(n);
  for (let m = 1; m < n - 1; m++) {
    let scale = 0;
    for (let i = m; i < n; i++) scale += Math.abs(a[i * n + m - 1] as number);
    if (scale === 0) continue;
    let square = 0;
    for (let i = m; i < n; i++) {
      const x = (a[i * n + m - 1] as number) / scale;
      v[i] = x;
      square += x * x;
    }
    const root = (v[m] as number) > 0 ? -Math.sqrt(square) : Math.sqrt(square);
    square -= (v[m] as number) * root;
    if (square === 0) continue;
    v[m] = (v[m] as number) - root;
    for (let j = m; j < n; j++) {
      let along = 0;
      for (let i = m; i < n; i++) along += (v[i] as number) * (a[i * n + j] as number);
      along /= square;
      for (let i = m; i < n; i++) a[i * n + j] = (a[i * n + j] as number) - along * (v[i] as number);
    }
    for (let i = 0; i < n; i++) {
      const row = i * n;
      let along = 0;
      for (let j = m; j < n; j++) along += (v[j] as number) * (a[row + j] as number);
      along /= square;
      for (let j = m; j < n; j++) a[row + j] = (a[row + j] as number) - along * (v[j] as number);
    }
    a[m * n + m - 1] = scale * root;
    for (let i = m + 1; i < n; i++) a[i * n + m - 1] = 0;
  }
}

/** The first row of the block that ends at `last` and does not fall apart. */
function activeFrom(a: Float64Array, n: number, last: number, size: number): number {
  let first = last;
  for (; first > 0; first--) {
    const s = Math.abs(a[(first - 1) * n + first - 1] as number) + Math.abs(a[first * n + first] as number);
    if (Math.abs(a[first * n + first - 1] as number) <= Number.EPSILON * (s === 0 ? size : s)) {
      a[first * n + first - 1] = 0;
      break;
    }
  }
  return first;
}

/** One step with two shifts on the rows and columns from `first` to `last`. */
function francisStep(a: Float64Array, n: number, first: number, last: number, x: number, y: number, w: number): void {
  let m = last - 2;
  let p = 0;
  let q = 0;
  let r = 0;
  for (; m >= first; m--) {
    const z = a[m * n + m] as number;
    const dx = x - z;
    const dy = y - z;
    p = (dx * dy - w) / (a[(m + 1) * n + m] as number) + (a[m * n + m + 1] as number);
    q = (a[(m + 1) * n + m + 1] as number) - z - dx - dy;
    r = a[(m + 2) * n + m + 1] as number;
    const s = Math.abs(p) + Math.abs(q) + Math.abs(r);
    p /= s;
    q /= s;
    r /= s;
    if (m === first) break;
    const u = Math.abs(a[m * n + m - 1] as number) * (Math.abs(q) + Math.abs(r));
    const around =
      Math.abs(a[(m - 1) * n + m - 1] as number) + Math.abs(z) + Math.abs(a[(m + 1) * n + m + 1] as number);
    if (u <= Number.EPSILON * Math.abs(p) * around) break;
  }
  for (let i = m + 2; i <= last; i++) {
    a[i * n + i - 2] = 0;
    if (i > m + 2) a[i * n + i - 3] = 0;
  }
  for (let k = m; k < last; k++) {
    const three = k + 1 !== last;
    let scale = 1;
    if (k !== m) {
      p = a[k * n + k - 1] as number;
      q = a[(k + 1) * n + k - 1] as number;
      r = three ? (a[(k + 2) * n + k - 1] as number) : 0;
      scale = Math.abs(p) + Math.abs(q) + Math.abs(r);
      if (scale === 0) continue;
      p /= scale;
      q /= scale;
      r /= scale;
    }
    const root = Math.sqrt(p * p + q * q + r * r);
    const s = p < 0 ? -root : root;
    if (s === 0) continue;
    if (k !== m) a[k * n + k - 1] = -s * scale;
    else if (first !== m) a[k * n + k - 1] = -(a[k * n + k - 1] as number);
    p += s;
    const fx = p / s;
    const fy = q / s;
    const fz = r / s;
    q /= p;
    r /= p;
    const [row, row1, row2] = [k * n, (k + 1) * n, (k + 2) * n];
    for (let j = k; j <= last; j++) {
      let t = (a[row + j] as number) + q * (a[row1 + j] as number);
      if (three) {
        t += r * (a[row2 + j] as number);
        a[row2 + j] = (a[row2 + j] as number) - t * fz;
      }
      a[row1 + j] = (a[row1 + j] as number) - t * fy;
      a[row + j] = (a[row + j] as number) - t * fx;
    }
    const until = Math.min(last, k + 3);
    for (let i = first; i <= until; i++) {
      const at = i * n + k;
      let t = fx * (a[at] as number) + fy * (a[at + 1] as number);
      if (three) {
        t += fz * (a[at + 2] as number);
        a[at + 2] = (a[at + 2] as number) - t * r;
      }
      a[at + 1] = (a[at + 1] as number) - t * q;
      a[at] = (a[at] as number) - t;
    }
  }
}
