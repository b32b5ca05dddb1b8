/** Small matrices on the host at `f64`, in our own operations only, so that lets have the same bits everywhere. */

/** Solves M x = f by Gaussian elimination with partial pivoting; M is n×n row by row, f has n rows. */
export function solveLinear(m: readonly number[], f: readonly number[], n: number): number[] {
  const columns = f.length / n;
  const width = n + columns;
  const a: number[][] = Array.from({ length: n }, (_, i) => [
    ...m.slice(i * n, (i + 1) * n),
    ...f.slice(i * columns, (i + 1) * columns),
  ]);
  const row = (i: number): number[] => a[i] ?? [];
  for (let k = 0; k < n; k++) {
    for (let i = k + 1; i < n; i++)
      if (Math.abs(row(k)[k] ?? 0) < Math.abs(row(i)[k] ?? 0)) [a[k], a[i]] = [row(i), row(k)];
    for (let i = k + 1; i < n; i++) {
      const factor = (row(i)[k] ?? 0) / (row(k)[k] ?? 0);
      for (let j = k + 1; j < width; j++) row(i)[j] = (row(i)[j] ?? 0) - factor * (row(k)[j] ?? 0);
    }
  }
  const x = new Array<number>(f.length).fill(0);
  for (let c = 0; c < columns; c++)
    for (let i = n - 1; i >= 0; i--) {
      let sum = row(i)[n + c] ?? 0;
      for (let j = i + 1; j < n; j++) sum -= (row(i)[j] ?? 0) * (x[j * columns + c] ?? 0);
      x[i * columns + c] = sum / (row(i)[i] ?? 0);
    }
  return x;
}

function multiply(a: readonly number[], b: readonly number[], n: number): number[] {
  const product = new Array<number>(n * n).fill(0);
  for (let i = 0; i < n; i++)
    for (let j = 0; j < n; j++) {
      let sum = 0;
      for (let k = 0; k < n; k++) sum += (a[i * n + k] ?? 0) * (b[k * n + j] ?? 0);
      product[i * n + j] = sum;
    }
  return product;
}

/**
 * The exponential of an n×n matrix by scaling and squaring with a diagonal Padé approximant of degree 8
 * (Moler and Van Loan, Nineteen Dubious Ways, SIAM Review 45, 2003, method 3).
 */
export function matrixExponential(m: readonly number[], n: number): number[] {
  let norm = 0;
  for (let i = 0; i < n; i++) {
    let sum = 0;
    for (let j = 0; j < n; j++) sum += Math.abs(m[i * n + j] ?? 0);
    norm = Math.max(norm, sum);
  }
  let squarings = 0;
  for (let size = norm; size > 0.5 && squarings < 1000; size /= 2) squarings++;
  let scale = 1;
  for (let i = 0; i < squarings; i++) scale /= 2;
  const a = m.map((x) => x * scale);
  const degree = 8;
  let term: number[] = Array.from({ length: n * n }, (_, k) => (Math.floor(k / n) === k % n ? 1 : 0));
  let above = [...term];
  let below = [...term];
  let c = 1;
  for (let k = 1; k <= degree; k++) {
    c *= (degree - k + 1) / (k * (2 * degree - k + 1));
    term = multiply(a, term, n);
    const sign = k % 2 === 0 ? 1 : -1;
    above = above.map((x, i) => x + c * (term[i] ?? 0));
    below = below.map((x, i) => x + sign * c * (term[i] ?? 0));
  }
  let result = solveLinear(below, above, n);
  for (let i = 0; i < squarings; i++) result = multiply(result, result, n);
  return result;
}
