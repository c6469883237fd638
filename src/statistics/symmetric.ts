/**
 * Eigenvalues and eigenvectors of a small symmetric matrix by cyclic Jacobi rotations.
 * Golub & Van Loan, Matrix Computations, 4th ed., section 8.5.
 *
 * @param a n-square, row by row; only read
 * @returns `vectors` row by row, column k belonging to `values[k]`; unordered
 */
export function symmetricEigen(a: ArrayLike<number>, n: number): { values: Float64Array; vectors: Float64Array } {
  const d = Float64Array.from(a);
  const v = new Float64Array(n * n);
  for (let i = 0; i < n; i++) v[i * n + i] = 1;
  for (let sweep = 0; sweep < 60; sweep++) {
    let off = 0;
    let diagonal = 0;
    for (let i = 0; i < n; i++)
      for (let j = 0; j <= i; j++)
        if (i === j) diagonal += d[i * n + i]! ** 2;
        else off += d[i * n + j]! ** 2;
    if (off <= 1e-32 * diagonal) break;
    for (let p = 0; p < n; p++)
      for (let q = p + 1; q < n; q++) {
        const apq = d[p * n + q]!;
        if (apq === 0) continue;
        const ratio = (d[q * n + q]! - d[p * n + p]!) / (2 * apq);
        const tan = (ratio >= 0 ? 1 : -1) / (Math.abs(ratio) + Math.hypot(1, ratio));
        const cos = 1 / Math.hypot(1, tan);
        const sin = tan * cos;
        for (let k = 0; k < n; k++) {
          const [x, y] = [d[k * n + p]!, d[k * n + q]!];
          d[k * n + p] = cos * x - sin * y;
          d[k * n + q] = sin * x + cos * y;
        }
        for (let k = 0; k < n; k++) {
          const [x, y] = [d[p * n + k]!, d[q * n + k]!];
          d[p * n + k] = cos * x - sin * y;
          d[q * n + k] = sin * x + cos * y;
        }
        for (let k = 0; k < n; k++) {
          const [x, y] = [v[k * n + p]!, v[k * n + q]!];
          v[k * n + p] = cos * x - sin * y;
          v[k * n + q] = sin * x + cos * y;
        }
      }
  }
  return { values: Float64Array.from({ length: n }, (_, i) => d[i * n + i]!), vectors: v };
}

/**
 * Lower triangle T with T T' = a, for a symmetric matrix that may be singular: a pivot below `tolerance` times its
 * diagonal gives a column of zeros.
 */
export function semidefiniteCholesky(a: ArrayLike<number>, n: number, tolerance = 1e-14): Float64Array {
  const t = new Float64Array(n * n);
  for (let j = 0; j < n; j++) {
    let pivot = a[j * n + j]!;
    for (let k = 0; k < j; k++) pivot -= t[j * n + k]! ** 2;
    if (!(pivot > tolerance * a[j * n + j]!)) continue;
    t[j * n + j] = Math.sqrt(pivot);
    for (let i = j + 1; i < n; i++) {
      let sum = a[i * n + j]!;
      for (let k = 0; k < j; k++) sum -= t[i * n + k]! * t[j * n + k]!;
      t[i * n + j] = sum / t[j * n + j]!;
    }
  }
  return t;
}
