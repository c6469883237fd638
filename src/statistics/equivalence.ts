import { halfWidth, tCdf } from './distributions.ts';

/** An estimate, its standard error in the same unit and its degrees of freedom; `Infinity` for the normal. */
export interface Estimated {
  readonly estimate: number;
  readonly standardError: number;
  readonly df: number;
}

/** Two one-sided tests of an estimate against a margin on either side of 0. */
export interface EquivalenceTest {
  readonly margin: number;
  /** Against the hypothesis that the truth is -margin or less. */
  readonly lower: { readonly t: number; readonly p: number };
  /** Against the hypothesis that the truth is margin or more. */
  readonly upper: { readonly t: number; readonly p: number };
  /** The larger of the two: p of the hypothesis that the truth lies outside the margin. */
  readonly p: number;
  /** Interval at 1 - 2 alpha: inside the margin exactly where `p` is under alpha. */
  readonly low: number;
  readonly high: number;
}

/**
 * Whether an estimate is shown to lie within a margin of 0, by two one-sided t tests at level `alpha` each.
 *
 * Schuirmann (1987), Journal of Pharmacokinetics and Biopharmaceutics 15, 657-680. Both tests must reject, so neither needs an
 * adjustment for the other (Berger & Hsu 1996, Statistical Science 11, 283-319).
 *
 * @param margin the largest difference that does not matter, in the unit of the estimate
 * @param alpha  default 0.05
 * @throws {RangeError} when the margin or the standard error is not positive
 */
export function testEquivalence(
  { estimate, standardError, df }: Estimated,
  margin: number,
  alpha = 0.05,
): EquivalenceTest {
  requireMargin(margin);
  if (!(standardError > 0))
    throw new RangeError(`Cannot test equivalence with a standard error of ${standardError}; expected more than 0`);
  const lower = (estimate + margin) / standardError;
  const upper = (estimate - margin) / standardError;
  const pLower = tCdf(-lower, df);
  const pUpper = tCdf(upper, df);
  const reach = halfWidth(1 - 2 * alpha, df) * standardError;
  return {
    margin,
    lower: { t: lower, p: pLower },
    upper: { t: upper, p: pUpper },
    p: Math.max(pLower, pUpper),
    low: estimate - reach,
    high: estimate + reach,
  };
}

/** @throws {RangeError} when a margin of equivalence is not a number above 0 */
export function requireMargin(margin: number): void {
  if (!(margin > 0 && margin < Infinity))
    throw new RangeError(
      `Cannot call groups alike within a margin of ${margin}; expected a number above 0, the largest difference that does not matter`,
    );
}
