import { symmetricEigen } from './symmetric.ts';

export interface Collinearity {
  /** Square root of the largest over the smallest eigenvalue of the correlations: 1 where estimates do not depend on each other. */
  readonly condition: number;
  /** By how much each estimate's variance exceeds what it would be were all others known (the variance inflation factor). */
  readonly inflation: readonly number[];
}

/**
 * How far estimates hang together, from their covariance matrix. An estimate without variance hangs on none.
 *
 * Belsley, Kuh & Welsch (1980), Regression Diagnostics, chapter 3; Marquardt (1970), Technometrics 12, 591-612.
 */
export function collinearity(covariance: readonly (readonly number[])[]): Collinearity {
  const m = covariance.length;
  const correlation = covariance.map((row, i) =>
    row.map((value, j) => value / Math.sqrt(covariance[i]![i]! * covariance[j]![j]!) || Number(i === j)),
  );
  const { values, vectors } = symmetricEigen(correlation.flat(), m);
  // Eigenvalues that rounding alone makes stand for shapes that are one.
  const sizes = Array.from(values, (value) => Math.max(value, 1e-14));
  return {
    condition: Math.sqrt(Math.max(...sizes) / Math.min(...sizes)),
    inflation: correlation.map((_, i) =>
      sizes.reduce((added, value, k) => added + vectors[i * m + k]! ** 2 / value, 0),
    ),
  };
}
