import { chiSquaredCdf } from '../distributions.ts';
import type { MixedFit } from './fit-mixed.ts';

export interface LikelihoodRatio {
  /** Twice the difference of the log-likelihoods. */
  readonly statistic: number;
  /** Difference of the numbers of parameters. */
  readonly df: number;
  readonly p: number;
  /**
   * p when the smaller model sets one variance to zero and nothing else: half of the above, as the statistic is 0 in half
   * of all samples. Self & Liang (1987), J. Am. Stat. Assoc. 82, 605-610. Null when df is not 1.
   */
  readonly boundaryP: number | null;
}

/**
 * Likelihood-ratio test of a model within a larger one. Fixed effects are compared by ML; REML likelihoods are comparable
 * only between models with the same fixed effects.
 *
 * @throws {RangeError} when the fits are not of the same readings and method, or REML fits differ in fixed effects
 */
export function compareFits(small: MixedFit, large: MixedFit): LikelihoodRatio {
  if (small.observations !== large.observations)
    throw new RangeError(
      `Cannot compare fits of ${small.observations} and ${large.observations} readings; expected the same readings`,
    );
  if (small.method !== large.method)
    throw new RangeError(`Cannot compare a fit by ${small.method} with one by ${large.method}; expected one method`);
  const terms = (fit: MixedFit): string => fit.fixed.map(({ term }) => term).join(', ');
  if (small.method === 'REML' && terms(small) !== terms(large))
    throw new RangeError(
      `Cannot compare REML fits with different fixed effects (${terms(small)} and ${terms(large)}); fit both by ML`,
    );
  const df = large.parameters - small.parameters;
  if (!(df > 0))
    throw new RangeError(`Cannot compare: the second model has ${df} parameters more; expected at least 1`);
  const statistic = Math.max(0, small.criterion - large.criterion);
  const p = 1 - chiSquaredCdf(statistic, df);
  return { statistic, df, p, boundaryP: df === 1 ? (statistic > 0 ? p / 2 : 1) : null };
}
