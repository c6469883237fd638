import type { BlockSums, Covariate } from '../sources/block-sums.ts';
import { fitMixed, type MixedFit } from '../statistics/mixed/fit-mixed.ts';
import { cellsOf, meanEffects } from './cell-effects.ts';
import { projectSaddle } from './contrast-rows.ts';
import { centreCovariates } from './covariate-effects.ts';
import { screenFaults } from './fault-screen.ts';
import { reportTrend } from './report-trend.ts';
import { leftOver, type Spread, stringMoments } from './string-moments.ts';
import type { Trend } from './trend.ts';
import { type Identified, identify, tellsRise, trendModel } from './trend-model.ts';
import { deviationOf, weighAndFit } from './weigh-and-fit.ts';

export interface TrendOptions {
  /** Covariates of the rise to fit; default none. */
  readonly covariates?: readonly Covariate[];
}

/** Fewest instruments from which a spread between instruments can be told. */
const fewestInstruments = 3;

/**
 * Fits the reading-level model to all instruments at once: rises by model and string pooled in part, nut offsets, hands,
 * the spread between instruments and between readings, and a screen for faults.
 *
 * The fit is robust: instruments and strings that fit their model badly get Student-t weights (nu = 4), weights and fit in
 * turn until they settle. Standard errors are widened by what the weights cost on clean data.
 *
 * Technicians' hands are told apart by themselves where the readings allow it. Covariates are for the asking: each adds its part
 * to the rise, and a cell's rise is that of its usual covariates.
 *
 * @throws {RangeError} with advice when there are too few instruments, or when nothing varies
 */
export function fitTrend(sums: BlockSums, { covariates = [] }: TrendOptions = {}): Trend {
  requireEnough(sums);
  const identified = identify(sums);
  const { used, silent } = centreCovariates(sums, covariates);
  const parts = { identified, covariates: used };
  const cells = cellsOf(sums);
  const { round, weights, moments } = weighAndFit(sums, ({ rows, root, options }) => {
    const { columns, description } = trendModel(sums, rows, { ...parts, root });
    const fit = fitMixed(columns, description, options);
    const means = meanEffects(sums, fit, cells, parts);
    return { fit, spread: spreadOf(fit, identified), means, residual: means.residual(rows) };
  });
  const { fit, spread, means } = round;
  const faults = screenFaults(sums, moments, spread, means.expected(moments, spread));
  return reportTrend({ ...parts, silent, sums, fit, cells, spread, moments, weights, faults });
}

function requireEnough(sums: BlockSums): void {
  const rows = projectSaddle(sums);
  const blocks = Array.from(sums.blockString.keys());
  const telling = blocks.filter((block) => tellsRise(sums, block));
  const instruments = new Set(telling.map((block) => sums.blockInstrument[block]!));
  if (instruments.size < fewestInstruments) {
    const few =
      instruments.size === 0
        ? 'no instrument has'
        : `only ${instruments.size} of ${sums.instruments.length} ${instruments.size === 1 ? 'instruments has' : 'instruments have'}`;
    throw new RangeError(
      `Cannot fit a trend: ${few} a string read at two frets on one pass, one of them above the 12th; ` +
        `expected at least ${fewestInstruments}, better 6 of a model: read the 12th and the 17th of more instruments` +
        (instruments.size === 0 ? ', and give both the same number in column "pass"' : ''),
    );
  }
  const whole = stringMoments(
    {
      ...sums,
      instruments: ['all'],
      blockInstrument: sums.blockInstrument.map(() => 0),
      blockString: sums.blockString.map(() => 1),
    },
    rows,
    rows.response,
  )[0]![0]!;
  if (leftOver(whole).squares <= 1e-12 * Math.max(1, whole.yy))
    throw new RangeError(
      'Cannot fit a trend: every string reads the same; expected readings that differ, check that the log holds measurements',
    );
}

function spreadOf(fit: MixedFit, { instrumentStrings }: Identified): Spread {
  return {
    instrumentRise: deviationOf(fit, 'instrument', 'instrumentRise'),
    stringRise: instrumentStrings ? deviationOf(fit, 'instrument:string', 'stringRise') : 0,
    stringNut: deviationOf(fit, 'instrument:string', 'stringNut'),
    reading: fit.sigma,
  };
}
