import chisquareCdf from '@stdlib/stats-base-dists-chisquare-cdf';
import chisquareQuantile from '@stdlib/stats-base-dists-chisquare-quantile';
import fisherCdf from '@stdlib/stats-base-dists-f-cdf';
import gaussianCdf from '@stdlib/stats-base-dists-normal-cdf';
import gaussianQuantile from '@stdlib/stats-base-dists-normal-quantile';
import studentCdf from '@stdlib/stats-base-dists-t-cdf';
import studentQuantile from '@stdlib/stats-base-dists-t-quantile';

/** `P(Z <= z)` for a standard normal Z. */
export function normalCdf(z: number): number {
  return gaussianCdf(z, 0, 1);
}

/** The z that a standard normal stays under with probability p. */
export function normalQuantile(p: number): number {
  return gaussianQuantile(p, 0, 1);
}

/** `P(T <= t)` for Student's t on `df` degrees of freedom, whole or not; the normal for infinite df. */
export function tCdf(t: number, df: number): number {
  return df === Infinity ? normalCdf(t) : studentCdf(t, df);
}

/** The t that Student's t on `df` degrees of freedom stays under with probability p; the normal's for infinite df. */
export function tQuantile(p: number, df: number): number {
  return df === Infinity ? normalQuantile(p) : studentQuantile(p, df);
}

/** `P(X <= x)` for chi-squared on `df` degrees of freedom. */
export function chiSquaredCdf(x: number, df: number): number {
  return chisquareCdf(x, df);
}

/** The x that chi-squared on `df` degrees of freedom stays under with probability p. */
export function chiSquaredQuantile(p: number, df: number): number {
  return chisquareQuantile(p, df);
}

/** `P(F <= f)` for Fisher's F on `df1` and `df2` degrees of freedom. */
export function fCdf(f: number, df1: number, df2: number): number {
  return fisherCdf(f, df1, df2);
}

/** Two-sided p of a t statistic on `df` degrees of freedom; of a normal one where they are infinite. */
export function twoSidedP(t: number, df: number): number {
  return 2 * tCdf(-Math.abs(t), df);
}

/**
 * Half-width of a two-sided interval in standard errors; `level` is 0.95 for a 95 % interval.
 *
 * @throws {RangeError} for a level that is not between 0 and 1
 */
export function halfWidth(level: number, df: number): number {
  if (!(level > 0 && level < 1))
    throw new RangeError(`Cannot give an interval at level ${level}; expected a part between 0 and 1, such as 0.95`);
  return tQuantile((1 + level) / 2, df);
}
