import type { BlockSums } from '../sources/block-sums.ts';
import type { Columns, MixedDescription } from '../statistics/mixed/description.ts';
import { fitMixed, type MixedFit } from '../statistics/mixed/fit-mixed.ts';
import { type ContrastRows, projectSaddle } from './contrast-rows.ts';
import { equalWeights, robustWeights, weightChange, type Weights } from './robust-weights.ts';
import { startingWeights } from './starting-weights.ts';
import { finestScatter, type Spread, stringMoments } from './string-moments.ts';
import type { RootWeights } from './trend-model.ts';

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

/** Rounds of weighing and fitting after which it stops, as in `fitTrend`. */
const mostRounds = 12;

/**
 * Fits a model of the projected rows with Student-t weights on instruments and strings, weights and fit in turn until they settle
 * to a hundredth, as `fitTrend` does. One instrument alone has nothing to depart from, and is fitted at equal weights.
 *
 * @param modelAt the model at given root weights; `sigma` is what the rows were projected with, see `projectSaddle`
 */
export function robustFit(
  sums: BlockSums,
  modelAt: (rows: ContrastRows, root: RootWeights, sigma: number) => RowModel,
): RobustFit {
  const isOne = new Set(sums.blockInstrument).size === 1;
  let weights = isOne ? equalWeights(sums) : startingWeights(sums, projectSaddle(sums));
  let sigma = Infinity;
  let start: Float64Array | null = null;
  for (let round = 1; ; round++) {
    const rows = projectSaddle(sums, sigma);
    const model = modelAt(rows, weights.root, sigma);
    const fit = fitMixed(model.columns, model.description, start ? { start } : {});
    start = fit.theta;
    const spread = spreadOf(fit);
    if (!isOne && spread.reading > finestScatter && round < mostRounds) {
      const moments = stringMoments(sums, rows, residuals(rows, weights.root, model, fit));
      const next = robustWeights(sums, moments, spread);
      if (weightChange(weights, next) > 0.01) {
        weights = next;
        sigma = spread.reading;
        continue;
      }
    }
    return { fit, spread, weights };
  }
}

/** Spread of one instrument; where it is in several groups, the difference between groups counts in. */
function spreadOf(fit: MixedFit): Spread {
  const deviation = (group: string, effect: string): number => {
    const term = fit.random.find((one) => one.group === group && one.effects.includes(effect));
    return term ? term.standardDeviations[term.effects.indexOf(effect)]! : 0;
  };
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
