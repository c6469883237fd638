import { chiSquaredQuantile, halfWidth, tQuantile } from './distributions.ts';
import { normalRandom } from './random.ts';
import { semidefiniteCholesky } from './symmetric.ts';

/** Estimates to be judged together, with the covariance matrix of their errors. */
export interface Family {
  readonly estimates: readonly {
    readonly label: string;
    readonly estimate: number;
    readonly standardError: number;
    readonly df: number;
    readonly p: number;
  }[];
  readonly covariance: readonly ArrayLike<number>[];
}

/**
 * How a family's error rate is held.
 *
 * - `holm`: step-down Bonferroni p values, intervals of Bonferroni; valid under any dependence.
 * - `sidak`: single-step p values and intervals `1 - (1 - p)^m`.
 * - `single-step`: the largest |t| of the family by its joint distribution, simulated with the correlations given (for
 *   all pairs of equally precise means this is Tukey's method, against a control Dunnett's). Differing degrees of
 *   freedom are taken as the smallest. Hothorn, Bretz & Westfall (2008), Biometrical Journal 50, 346-363.
 */
export interface FamilyOptions {
  readonly method: 'holm' | 'sidak' | 'single-step';
  /** Level of the simultaneous intervals; default 0.95. */
  readonly level?: number;
  /** For `single-step`: seed and number of draws; defaults 1 and 100,000, which fixes a p of 0.05 to about 0.001. */
  readonly seed?: number;
  readonly draws?: number;
}

export interface Judged {
  readonly label: string;
  readonly estimate: number;
  readonly standardError: number;
  readonly df: number;
  readonly p: number;
  readonly adjustedP: number;
  readonly low: number;
  readonly high: number;
}

/** Holm's (1979, Scandinavian Journal of Statistics 6, 65-70) adjusted p values, in the order given. */
export function holm(p: readonly number[]): number[] {
  const order = p.map((_, k) => k).sort((a, b) => p[a]! - p[b]!);
  const adjusted = new Array<number>(p.length);
  let largest = 0;
  order.forEach((k, rank) => {
    largest = Math.max(largest, Math.min(1, (p.length - rank) * p[k]!));
    adjusted[k] = largest;
  });
  return adjusted;
}

/** Sidak's (1967, J. Am. Stat. Assoc. 62, 626-633) adjusted p values. */
export function sidak(p: readonly number[]): number[] {
  return p.map((value) => -Math.expm1(p.length * Math.log1p(-value)));
}

/** Distribution of the largest |t| of a family: `above(c)` is the probability that some |t| exceeds c. */
interface LargestT {
  above(c: number): number;
}

/**
 * Simulates the largest |z| with the family's correlations and mixes it over the chi distribution of the scale, whose
 * points are spaced evenly in probability.
 */
function largestT({ covariance }: Family, df: number, { seed, draws }: { seed: number; draws: number }): LargestT {
  const m = covariance.length;
  const correlation = new Float64Array(m * m);
  for (let i = 0; i < m; i++)
    for (let j = 0; j < m; j++)
      correlation[i * m + j] = covariance[i]![j]! / Math.sqrt(covariance[i]![i]! * covariance[j]![j]!);
  const root = semidefiniteCholesky(correlation, m, 1e-12);
  const random = normalRandom(seed);
  const largest = new Float64Array(draws);
  const z = new Float64Array(m);
  for (let draw = 0; draw < draws; draw++) {
    for (let i = 0; i < m; i++) z[i] = random();
    for (let i = 0; i < m; i++) {
      let sum = 0;
      for (let k = 0; k <= i; k++) sum += root[i * m + k]! * z[k]!;
      largest[draw] = Math.max(largest[draw]!, Math.abs(sum));
    }
  }
  largest.sort();
  const points = 200;
  const scales = Number.isFinite(df)
    ? Array.from({ length: points }, (_, k) => Math.sqrt(chiSquaredQuantile((k + 0.5) / points, df) / df))
    : [1];
  const countAbove = (c: number): number => {
    let [low, high] = [0, draws];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (largest[middle]! > c) high = middle;
      else low = middle + 1;
    }
    return draws - low;
  };
  return { above: (c) => scales.reduce((sum, s) => sum + countAbove(c * s), 0) / (draws * scales.length) };
}

/**
 * Adjusts p values and intervals of a family of estimates, such as contrasts read off a fit with `combine`.
 *
 * @throws {RangeError} for an empty family
 */
export function judgeTogether(
  family: Family,
  { method, level = 0.95, seed = 1, draws = 100_000 }: FamilyOptions,
): Judged[] {
  const { estimates } = family;
  const m = estimates.length;
  if (m === 0) throw new RangeError('Cannot judge an empty family of estimates; expected at least 1');
  const p = estimates.map((one) => one.p);
  const join = (adjusted: readonly number[], reach: (df: number) => number): Judged[] =>
    estimates.map(({ label, estimate, standardError, df, p: own }, k) => ({
      label,
      estimate,
      standardError,
      df,
      p: own,
      adjustedP: adjusted[k]!,
      low: estimate - reach(df) * standardError,
      high: estimate + reach(df) * standardError,
    }));
  switch (method) {
    case 'holm':
      return join(holm(p), (df) => tQuantile(1 - (1 - level) / (2 * m), df));
    case 'sidak':
      return join(sidak(p), (df) => halfWidth(level ** (1 / m), df));
    case 'single-step': {
      const df = Math.min(...estimates.map((one) => one.df));
      const distribution = largestT(family, df, { seed, draws });
      const adjusted = estimates.map(({ estimate, standardError }, k) =>
        Math.max(p[k]!, distribution.above(Math.abs(estimate / standardError))),
      );
      let [low, high] = [0, tQuantile(1 - (1 - level) / (2 * m), df) + 1];
      for (let step = 0; step < 60; step++) {
        const middle = (low + high) / 2;
        if (distribution.above(middle) > 1 - level) low = middle;
        else high = middle;
      }
      return join(adjusted, () => high);
    }
  }
}
