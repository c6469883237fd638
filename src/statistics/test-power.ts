import { chiSquaredQuantile, halfWidth, normalCdf, tQuantile } from './distributions.ts';

/** A true difference and how its estimate will scatter. */
export interface Design {
  readonly difference: number;
  readonly standardError: number;
  readonly df: number;
}

/** Points of the chi distribution over which power is averaged, evenly spaced in probability. */
const points = 2000;

/** Mean over the distribution of s / sigma, `s^2 / sigma^2` being chi-squared over its degrees of freedom. */
function meanOverScale(df: number, value: (scale: number) => number): number {
  if (df === Infinity) return value(1);
  let sum = 0;
  for (let k = 0; k < points; k++) sum += value(Math.sqrt(chiSquaredQuantile((k + 0.5) / points, df) / df));
  return sum / points;
}

/**
 * Power of the two-sided t test of no difference: `P(|T| > t_{1 - alpha/2})` for T noncentral t, both tails counted, with the
 * scale integrated out. What R's `power.t.test(strict = TRUE)` computes.
 */
export function powerOfDifference({ difference, standardError, df }: Design, alpha = 0.05): number {
  const t = halfWidth(1 - alpha, df);
  const ncp = difference / standardError;
  return meanOverScale(df, (scale) => normalCdf(ncp - t * scale) + normalCdf(-ncp - t * scale));
}

/**
 * Power of two one-sided t tests to show that a difference lies within a margin.
 *
 * Phillips (1990), Journal of Pharmacokinetics and Biopharmaceutics 18, 137-144: the bivariate noncentral t probability, here as
 * the mean over s of `Phi((margin - d) / se - t s) - Phi(-(margin + d) / se + t s)` where positive.
 */
export function powerOfEquivalence({ difference, standardError, df }: Design, margin: number, alpha = 0.05): number {
  const t = tQuantile(1 - alpha, df);
  return meanOverScale(df, (scale) =>
    Math.max(
      0,
      normalCdf((margin - difference) / standardError - t * scale) -
        normalCdf(-(margin + difference) / standardError + t * scale),
    ),
  );
}
