import type { BlockSums } from '../sources/block-sums.ts';
import type { Columns, MixedDescription } from '../statistics/mixed/description.ts';
import { fitMixed, type MixedFit } from '../statistics/mixed/fit-mixed.ts';
import type { ContrastRows } from './contrast-rows.ts';
import type { Weights } from './robust-weights.ts';
import type { Spread } from './string-moments.ts';
import type { RootWeights } from './trend-model.ts';
import { deviationOf, weighAndFit } from './weigh-and-fit.ts';

/** A mixed model of projected rows whose fixed columns are weighted by their block's root weight, as `trendModel` writes it. */
export interface RowModel {
  readonly columns: Columns;
  readonly description: MixedDescription;
  /** Per row, unweighted: what random effects shared by instruments (of models, of strings) add to the response. */
  readonly shared: (fit: MixedFit) => ArrayLike<number>;
}

export interface RobustFit {
  readonly fit: MixedFit;
  readonly spread: Spread;
  readonly weights: Weights;
}

/**
 * Fits a model of the projected rows with Student-t weights, as `fitTrend` does; see `weighAndFit`.
 *
 * @param modelAt the model at given root weights; `sigma` is what the rows were projected with, see `projectSaddle`
 */
export function robustFit(
  sums: BlockSums,
  modelAt: (rows: ContrastRows, root: RootWeights, sigma: number) => RowModel,
): RobustFit {
  const { round, weights } = weighAndFit(sums, ({ rows, root, sigma, options }) => {
    const model = modelAt(rows, root, sigma);
    const fit = fitMixed(model.columns, model.description, options);
    return { fit, spread: spreadOf(fit), residual: residuals(rows, root, model, fit) };
  });
  return { fit: round.fit, spread: round.spread, weights };
}

/** Spread of one instrument; where it is in several groups, the difference between groups counts in. */
function spreadOf(fit: MixedFit): Spread {
  const deviation = (group: string, effect: string): number => deviationOf(fit, group, effect);
  return {
    instrumentRise: Math.hypot(
      deviation('instrument', 'instrumentRise'),
      deviation('instrument:group', 'instrumentRise'),
    ),
    stringRise: deviation('instrument:string', 'stringRise'),
    stringNut: deviation('instrument:string', 'stringNut'),
    reading: fit.sigma,
  };
}

/** Per row: response less the part that is not the instrument's own. */
function residuals(rows: ContrastRows, root: RootWeights, { columns, shared }: RowModel, fit: MixedFit): Float64Array {
  const response = columns.response as Float64Array;
  const more = shared(fit);
  return rows.response.map((_, row) => {
    let left = response[row]!;
    for (const { term, estimate } of fit.fixed) left -= estimate * (columns[term] as Float64Array)[row]!;
    return left / root.block[rows.block[row]!]! - more[row]!;
  });
}
