import type { BlockSums } from '../sources/block-sums.ts';
import type { MixedFit } from '../statistics/mixed/fit-mixed.ts';
import { type ContrastRows, projectSaddle } from './contrast-rows.ts';
import { equalWeights, robustWeights, weightChange, type Weights } from './robust-weights.ts';
import { startingWeights } from './starting-weights.ts';
import { finestScatter, type Spread, type StringMoments, stringMoments } from './string-moments.ts';
import type { RootWeights } from './trend-model.ts';

/** A fit of a round, and what the next round's weights are found from. */
export interface Round {
  readonly fit: MixedFit;
  readonly spread: Spread;
  /** Per projected row: response less the part that is not the instrument's own. */
  readonly residual: Float64Array;
}

export interface Settled<R extends Round> {
  readonly round: R;
  readonly weights: Weights;
  readonly moments: readonly (readonly StringMoments[])[];
}

/** What a round is fitted with. */
export interface RoundStart {
  readonly rows: ContrastRows;
  readonly root: RootWeights;
  /** What the rows were projected with, see `projectSaddle`. */
  readonly sigma: number;
  /** Options of the fit: covariance parameters of the round before, to start from. */
  readonly options: { readonly start?: Float64Array };
}

/** Rounds of weighing and fitting after which it stops, settled or not; the demo shop settles in 6. */
const mostRounds = 12;

/**
 * Fits a model of the projected rows with Student-t weights on instruments and strings, weights and fit in turn until they settle
 * to a hundredth. One instrument alone has nothing to depart from, and is fitted at equal weights.
 */
export function weighAndFit<R extends Round>(sums: BlockSums, fitRound: (start: RoundStart) => R): Settled<R> {
  const isOne = new Set(sums.blockInstrument).size === 1;
  let sigma = Infinity;
  let rows = projectSaddle(sums, sigma);
  let weights = isOne ? equalWeights(sums) : startingWeights(sums, rows);
  let start: Float64Array | null = null;
  for (let at = 1; ; at++) {
    const round = fitRound({ rows, root: weights.root, sigma, options: start ? { start } : {} });
    start = round.fit.theta;
    const moments = stringMoments(sums, rows, round.residual);
    // Departures in units of a scatter that no measurement has say nothing, and the search for its size runs out of digits.
    if (isOne || round.spread.reading <= finestScatter || at >= mostRounds) return { round, weights, moments };
    const next = robustWeights(sums, moments, round.spread);
    if (weightChange(weights, next) <= 0.01) return { round, weights, moments };
    weights = next;
    sigma = round.spread.reading;
    rows = projectSaddle(sums, sigma);
  }
}

/** Standard deviation of an effect between the levels of a grouping; 0 when it is not in the model. */
export function deviationOf(fit: MixedFit, group: string, effect: string): number {
  const term = fit.random.find((one) => one.group === group && one.effects.includes(effect));
  return term ? term.standardDeviations[term.effects.indexOf(effect)]! : 0;
}
