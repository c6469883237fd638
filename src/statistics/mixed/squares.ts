/**
 * Products of m-square matrices that lie row by row in stretches of longer arrays. `out` must be another stretch than
 * `a` and `b`; each pair names an array and the place where the matrix starts.
 */
export type Square = readonly [array: Float64Array, at: number];

/** out = a b */
export function times(m: number, [out, o]: Square, [a, i]: Square, [b, j]: Square): void {
  for (let r = 0; r < m; r++)
    for (let c = 0; c < m; c++) {
      let sum = 0;
      for (let k = 0; k < m; k++) sum += a[i + r * m + k]! * b[j + k * m + c]!;
      out[o + r * m + c] = sum;
    }
}

/** out = a' b */
export function transposeTimes(m: number, [out, o]: Square, [a, i]: Square, [b, j]: Square): void {
  for (let r = 0; r < m; r++)
    for (let c = 0; c < m; c++) {
      let sum = 0;
      for (let k = 0; k < m; k++) sum += a[i + k * m + r]! * b[j + k * m + c]!;
      out[o + r * m + c] = sum;
    }
}

/** out = a b' */
export function timesTranspose(m: number, [out, o]: Square, [a, i]: Square, [b, j]: Square): void {
  for (let r = 0; r < m; r++)
    for (let c = 0; c < m; c++) {
      let sum = 0;
      for (let k = 0; k < m; k++) sum += a[i + r * m + k]! * b[j + c * m + k]!;
      out[o + r * m + c] = sum;
    }
}

/** Inverts a positive definite matrix in place; returns its log-determinant, NaN if it is not one. */
export function invertInPlace(m: number, [a, at]: Square): number {
  let logDet = 0;
  // Sweeps pivot by pivot (Gauss-Jordan without pivoting, which a positive definite matrix does not need).
  for (let k = 0; k < m; k++) {
    const pivot = a[at + k * m + k]!;
    if (!(pivot > 0)) return NaN;
    logDet += Math.log(pivot);
    a[at + k * m + k] = 1;
    for (let c = 0; c < m; c++) a[at + k * m + c]! /= pivot;
    for (let r = 0; r < m; r++) {
      if (r === k) continue;
      const factor = a[at + r * m + k]!;
      a[at + r * m + k] = 0;
      for (let c = 0; c < m; c++) a[at + r * m + c]! -= factor * a[at + k * m + c]!;
    }
  }
  return logDet;
}
