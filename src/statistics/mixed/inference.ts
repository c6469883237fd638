import { halfWidth, twoSidedP } from '../distributions.ts';

/** What is inferred of one quantity from its estimate; `low` and `high` bound the interval at the level of the options. */
export interface Inference {
  readonly estimate: number;
  /** Square root of the variance of (estimate - truth). */
  readonly standardError: number;
  /** Satterthwaite's degrees of freedom. */
  readonly df: number;
  readonly t: number;
  readonly p: number;
  readonly low: number;
  readonly high: number;
}

/** The t statistic of an estimate against 0, its two-sided p, and its interval at the level. */
export function infer(
  { estimate, standardError, df }: Pick<Inference, 'estimate' | 'standardError' | 'df'>,
  level: number,
): Inference {
  const t = estimate / standardError;
  const reach = halfWidth(level, df) * standardError;
  return { estimate, standardError, df, t, p: twoSidedP(t, df), low: estimate - reach, high: estimate + reach };
}
