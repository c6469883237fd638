/**
 * Conditional mean and covariance of jointly normal variables by the textbook formula
 * `E[x | y] = m + S_xy S_yy^-1 (y - H m)`, with Gauss elimination: independent of everything under test.
 *
 * @param covariance of x before, with mean `mean`; the readings are `y = H x + e`, e independent with variances `noise`
 */
export function condition(
  mean: readonly number[],
  covariance: readonly (readonly number[])[],
  { h, y, noise }: { h: readonly (readonly number[])[]; y: readonly number[]; noise: readonly number[] },
): { mean: number[]; covariance: number[][] } {
  const dot = (a: readonly number[], b: readonly number[]): number =>
    a.reduce((sum, value, i) => sum + value * b[i]!, 0);
  const sxy = covariance.map((row) => h.map((reading) => dot(row, reading)));
  const syy = h.map((a, i) =>
    h.map(
      (b, j) =>
        dot(
          a,
          covariance.map((row) => dot(row, b)),
        ) + (i === j ? noise[i]! : 0),
    ),
  );
  const gain = sxy.map((row) => solve(syy, row));
  const off = y.map((value, i) => value - dot(h[i]!, mean));
  return {
    mean: mean.map((value, i) => value + dot(gain[i]!, off)),
    covariance: covariance.map((row, i) => row.map((value, j) => value - dot(gain[i]!, sxy[j]!))),
  };
}

/** Solves the symmetric system `A x = b` by elimination with pivoting. */
function solve(a: readonly (readonly number[])[], b: readonly number[]): number[] {
  const m = a.map((row, i) => [...row, b[i]!]);
  for (let k = 0; k < m.length; k++) {
    const pivot = m.slice(k).reduce((best, row, at) => (Math.abs(row[k]!) > Math.abs(m[best]![k]!) ? k + at : best), k);
    [m[k], m[pivot]] = [m[pivot]!, m[k]!];
    for (let i = k + 1; i < m.length; i++) {
      const factor = m[i]![k]! / m[k]![k]!;
      for (let j = k; j <= m.length; j++) m[i]![j]! -= factor * m[k]![j]!;
    }
  }
  const x = new Array<number>(m.length).fill(0);
  for (let i = m.length - 1; i >= 0; i--)
    x[i] =
      (m[i]![m.length]! - m[i]!.slice(i + 1, -1).reduce((sum, value, j) => sum + value * x[i + 1 + j]!, 0)) / m[i]![i]!;
  return x;
}
