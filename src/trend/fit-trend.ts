import { kappa } from '../acoustics/frets.ts';
import type { BlockSums } from '../sources/block-sums.ts';
import { tQuantile } from '../statistics/distributions.ts';
import type { CombinedEstimate } from '../statistics/mixed/combine.ts';
import { fitMixed, type MixedFit } from '../statistics/mixed/fit-mixed.ts';
import { cellsOf, type Cell, meanEffects, nutCombination, riseCombination } from './cell-effects.ts';
import { projectSaddle } from './contrast-rows.ts';
import { type Fault, screenFaults } from './fault-screen.ts';
import { rawRises, type RawRise } from './raw-rises.ts';
import { type DownWeighted, equalWeights, robustWeights, weightChange, type Weights } from './robust-weights.ts';
import { leftOver, type Spread, startingSpread, type StringMoments, stringMoments } from './string-moments.ts';
import { type Identified, identify, technicianTerm, trendModel } from './trend-model.ts';
import { trendNotes } from './trend-notes.ts';

/** An estimate in cents with its standard error, degrees of freedom and 95 % interval. */
export interface Estimate {
  readonly estimate: number;
  readonly standardError: number;
  readonly df: number;
  readonly low: number;
  readonly high: number;
}

/** The rise of one string of one model, in cents. */
export interface CellTrend {
  readonly string: number;
  /** Instruments of the model on which this string was read at two frets or more. */
  readonly instruments: number;
  /** Pooled: this cell's readings and what other models and strings tell of it, the nut's part taken out where it can be. */
  readonly rise: Estimate;
  /** Raw: the mean over this model's instruments alone, the model's nut part taken out; null without readings at 12 and 17. */
  readonly raw: Estimate | null;
  /** The usual step of the readings in cents; 0 where not stated. */
  readonly resolutionCents: number;
}

export interface ModelTrend {
  readonly model: string;
  readonly instruments: number;
  /** Nut offset: the same error at every fret. Estimate and standard error are 0 where it cannot be told from the rise. */
  readonly nut: Estimate;
  /** By string, thinnest first. */
  readonly cells: readonly CellTrend[];
  /** Covariance of the estimates (nut, rise of each cell in order), in cents squared. */
  readonly covariance: readonly (readonly number[])[];
}

/** One technician's hand against the mean of the shop's hands, in cents; positive reads sharper. */
export interface Hand {
  readonly technician: string;
  readonly rise: Estimate;
  readonly nut: Estimate | null;
}

export interface Trend {
  readonly models: readonly ModelTrend[];
  /** Mean rise over models and strings. */
  readonly shop: Estimate;
  readonly spread: Spread;
  /** Standard deviations, in cents, between models, between strings, of the two together, and of the models' nut offsets. */
  readonly pooling: {
    readonly model: number;
    readonly string: number;
    readonly modelString: number;
    readonly modelNut: number;
  };
  readonly hands: readonly Hand[];
  readonly downWeighted: readonly DownWeighted[];
  readonly faults: readonly Fault[];
  /** Plain sentences on what the estimates contain, what was left out and why. */
  readonly notes: readonly string[];
  readonly sums: BlockSums;
}

/** Fewest instruments from which a spread between instruments can be told. */
const fewestInstruments = 3;

/** Rounds of weighing and fitting after which it stops, settled or not; the demo shop settles in 6. */
const mostRounds = 12;

/**
 * Fits the reading-level model to all instruments at once: rises by model and string pooled in part, nut offsets, hands,
 * the spread between instruments and between readings, and a screen for faults.
 *
 * The fit is robust: instruments and strings that fit their model badly get Student-t weights (nu = 4), weights and fit in
 * turn until they settle. Standard errors are widened by what the weights cost on clean data.
 *
 * @throws {RangeError} with advice when there are too few instruments, or when nothing varies
 */
export function fitTrend(sums: BlockSums): Trend {
  requireEnough(sums);
  const identified = identify(sums);
  const cells = cellsOf(sums);
  let weights = equalWeights(sums);
  let sigma = Infinity;
  for (let round = 1; ; round++) {
    const rows = projectSaddle(sums, sigma);
    const { columns, description } = trendModel(sums, rows, identified, weights.root);
    const fit = fitMixed(columns, description);
    const spread = spreadOf(fit, identified);
    const means = meanEffects(sums, fit, cells, identified);
    const moments = stringMoments(sums, rows, means.residual(rows));
    const next = robustWeights(sums, moments, round === 1 ? startingSpread(moments, spread) : spread);
    if (weightChange(weights, next) > 0.01 && round < mostRounds) {
      weights = next;
      sigma = spread.reading;
      continue;
    }
    const faults = screenFaults(sums, moments, spread, means.expected(moments, spread));
    return report({ sums, fit, identified, cells, spread, moments, weights, faults });
  }
}

function requireEnough(sums: BlockSums): void {
  const rows = projectSaddle(sums);
  const instruments = new Set(Array.from(rows.block, (block) => sums.blockInstrument[block]!));
  if (instruments.size < fewestInstruments)
    throw new RangeError(
      `Cannot fit a trend to ${instruments.size} instrument${instruments.size === 1 ? '' : 's'} with a string read at two frets; ` +
        `expected at least ${fewestInstruments}, better 6 of a model: read the 12th and the 17th of more instruments`,
    );
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

/** Standard deviation of an effect between the levels of a grouping; 0 when it is not in the model. */
function deviationOf(fit: MixedFit, group: string, effect: string): number {
  const term = fit.random.find((one) => one.group === group && one.effects.includes(effect));
  return term ? term.standardDeviations[term.effects.indexOf(effect)]! : 0;
}

function spreadOf(fit: MixedFit, { instrumentStrings }: Identified): Spread {
  return {
    instrumentRise: deviationOf(fit, 'instrument', 'instrumentRise'),
    stringRise: instrumentStrings ? deviationOf(fit, 'instrument:string', 'stringRise') : 0,
    stringNut: deviationOf(fit, 'instrument:string', 'stringNut'),
    reading: fit.sigma,
  };
}

interface Fitted {
  readonly sums: BlockSums;
  readonly fit: MixedFit;
  readonly identified: Identified;
  readonly cells: ReadonlyMap<number, readonly Cell[]>;
  readonly spread: Spread;
  readonly moments: readonly (readonly StringMoments[])[];
  readonly weights: Weights;
  readonly faults: readonly Fault[];
}

function report(fitted: Fitted): Trend {
  const { sums, fit, identified, cells, spread, weights, faults } = fitted;
  const raw = rawRises(sums);
  const widen = (one: CombinedEstimate): Estimate => widened(one, weights.varianceFactor);
  const models = [...cells].map(([model, strings]): ModelTrend => {
    const combined = fit.combine([
      ...(identified.nut ? [nutCombination(model, identified)] : []),
      ...strings.map(({ string }) => riseCombination(model, string, identified)),
    ]);
    const estimates = combined.estimates.map(widen);
    const nut = identified.nut ? estimates.shift()! : none;
    const covariance = combined.covariance.map((row) => Array.from(row, (value) => value * weights.varianceFactor));
    return {
      model: sums.models[model]!,
      instruments: sums.modelOfInstrument.filter((of, at) => of === model && fitted.moments[at]!.length > 0).length,
      nut,
      cells: strings.map((cell, at): CellTrend => ({
        ...cell,
        rise: estimates[at]!,
        raw: rawEstimate(raw.get(model)?.get(cell.string), nut.estimate),
      })),
      covariance: identified.nut ? covariance : [[0, ...strings.map(() => 0)], ...covariance.map((row) => [0, ...row])],
    };
  });
  const pooling = {
    model: deviationOf(fit, 'model', 'rise'),
    string: deviationOf(fit, 'string', 'rise'),
    modelString: deviationOf(fit, 'model:string', 'rise'),
    modelNut: deviationOf(fit, 'model', 'nut'),
  };
  const hands = handsOf(sums, fit, identified).map((hand) => ({
    ...hand,
    rise: widen(hand.rise),
    nut: hand.nut && widen(hand.nut),
  }));
  const trend = { models, spread, pooling, hands, downWeighted: weights.listed, faults, sums };
  return {
    ...trend,
    shop: widen(fit.combine([{ fixed: { rise: 1 } }]).estimates[0]!),
    // Where strings cannot be told from single readings, their common spread counts as both: nothing is promised too narrow.
    spread: identified.instrumentStrings ? spread : { ...spread, stringRise: spread.reading * Math.hypot(1, kappa) },
    notes: trendNotes(trend, identified, fit.boundary),
  };
}

const none: Estimate = { estimate: 0, standardError: 0, df: Infinity, low: 0, high: 0 };

/** An estimate whose variance is multiplied by `factor`, its interval with it. */
function widened({ estimate, standardError, df, low, high }: CombinedEstimate, factor: number): Estimate {
  const root = Math.sqrt(factor);
  return {
    estimate,
    standardError: standardError * root,
    df,
    low: estimate + (low - estimate) * root,
    high: estimate + (high - estimate) * root,
  };
}

/** A raw mean less the nut's part, with the t interval of its instruments; unbounded with one instrument. */
function rawEstimate(raw: RawRise | undefined, nut: number): Estimate | null {
  if (!raw) return null;
  const estimate = raw.mean - (1 - kappa) * nut;
  const df = raw.instruments - 1;
  if (df === 0) return { estimate, standardError: Infinity, df, low: -Infinity, high: Infinity };
  const standardError = raw.sd / Math.sqrt(raw.instruments);
  const reach = tQuantile(0.975, df) * standardError;
  return { estimate, standardError, df, low: estimate - reach, high: estimate + reach };
}

function handsOf(
  sums: BlockSums,
  fit: MixedFit,
  { technicians, technicianNuts }: Identified,
): { technician: string; rise: CombinedEstimate; nut: CombinedEstimate | null }[] {
  if (!technicians) return [];
  const last = sums.technicians.length - 1;
  /** A technician's departure; the last one's is minus the sum of the others'. */
  const departures = (kind: 'rise' | 'nut'): readonly CombinedEstimate[] =>
    fit.combine(
      sums.technicians.map((_, technician) => ({
        fixed: Object.fromEntries(
          Array.from({ length: last }, (_unused, other): [string, number] => [
            technicianTerm(kind, other),
            technician === last ? -1 : Number(technician === other),
          ]),
        ),
      })),
    ).estimates;
  const rises = departures('rise');
  const nuts = technicianNuts ? departures('nut') : null;
  return sums.technicians.map((technician, at) => ({ technician, rise: rises[at]!, nut: nuts?.[at] ?? null }));
}
