import { chiSquaredQuantile } from './distributions.ts';

/**
 * Weights that a Student-t likelihood gives to groups of rows, scaled so that normal data keep their variances.
 *
 * A group of k rows at squared Mahalanobis distance d2 gets `c (nu + k) / (nu + d2)` (Lange, Little & Taylor 1989, J. Am.
 * Stat. Assoc. 84, 881). With c = 1 the scale estimated is that of the t distribution; here c is chosen so that
 * `E[w d2] = k` when d2 is chi-squared on k degrees of freedom (Fisher consistency at the normal), so a clean sample's
 * variance components stay those of the unweighted fit.
 */
export interface StudentWeights {
  weight(distance: number, k: number): number;
  /**
   * Asymptotic variance at the normal of a location so weighted over the variance that its weights suggest,
   * `E[w] E[w^2 d2 / k] / E[w + (2/k) w' d2]^2`: the factor by which a weighted fit's covariance falls short.
   */
  varianceFactor(k: number): number;
}

/** @param nu degrees of freedom of the t distribution; the smaller, the less an outlying group counts */
export function studentWeights(nu: number): StudentWeights {
  const scales = new Map<number, { scale: number; factor: number }>();
  const constants = (k: number): { scale: number; factor: number } => {
    const known = scales.get(k);
    if (known) return known;
    // Expectations over chi-squared by the midpoint rule in probability; the integrands are bounded.
    const points = 400;
    const distances = Array.from({ length: points }, (_, at) => chiSquaredQuantile((at + 0.5) / points, k));
    const mean = (f: (d2: number) => number): number => distances.reduce((sum, d2) => sum + f(d2), 0) / points;
    const raw = (d2: number): number => (nu + k) / (nu + d2);
    const scale = k / mean((d2) => raw(d2) * d2);
    const slope = mean((d2) => scale * raw(d2) * (1 - ((2 / k) * d2) / (nu + d2)));
    const factor = (scale * mean(raw) * mean((d2) => (scale * raw(d2)) ** 2 * d2)) / k / slope ** 2;
    const found = { scale, factor };
    scales.set(k, found);
    return found;
  };
  return {
    weight: (distance, k) => (constants(k).scale * (nu + k)) / (nu + distance),
    varianceFactor: (k) => constants(k).factor,
  };
}
