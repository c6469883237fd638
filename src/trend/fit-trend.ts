import { kappa } from '../acoustics/frets.ts';
import type { BlockSums, Covariate } from '../sources/block-sums.ts';
import { tQuantile } from '../statistics/distributions.ts';
import type { Combination, CombinedEstimate } from '../statistics/mixed/combine.ts';
import { fitMixed, type MixedFit } from '../statistics/mixed/fit-mixed.ts';
import { cellsOf, type Cell, meanEffects, nutCombination, riseCombination } from './cell-effects.ts';
import { projectSaddle } from './contrast-rows.ts';
import { type CentredCovariate, centreCovariates, covariateTerm } from './covariate-effects.ts';
import { type Fault, screenFaults } from './fault-screen.ts';
import { rawRises, type RawRise } from './raw-rises.ts';
import { type DownWeighted, robustWeights, weightChange, type Weights } from './robust-weights.ts';
import { startingWeights } from './starting-weights.ts';
import { finestScatter, leftOver, type Spread, type StringMoments, stringMoments } from './string-moments.ts';
import { type Identified, identify, technicianTerm, tellsRise, trendModel } from './trend-model.ts';
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
  /** Instruments of the model on which this string was read at two frets or more, one of them above the 12th. */
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
  /** What is known of a model before any of its instruments is read: the shop's means, and how far models are from them. */
  readonly unread: ModelTrend;
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
  readonly covariates: readonly CovariateTrend[];
  readonly downWeighted: readonly DownWeighted[];
  readonly faults: readonly Fault[];
  /** Plain sentences on what the estimates contain, what was left out and why. */
  readonly notes: readonly string[];
  readonly sums: BlockSums;
}

/** A covariate's part in the rise. */
export interface CovariateTrend {
  readonly name: Covariate;
  /** Cents of rise per unit: per mm, or wound against plain. */
  readonly perUnit: Estimate;
  /** Blocks (string and pass) without a value; they count as the mean. */
  readonly missing: number;
}

export interface TrendOptions {
  /** Covariates of the rise to fit; default none. */
  readonly covariates?: readonly Covariate[];
}

/** Fewest instruments from which a spread between instruments can be told. */
const fewestInstruments = 3;

/** The most strings that models.csv allows. */
const mostStrings = 12;

/** Rounds of weighing and fitting after which it stops, settled or not; the demo shop settles in 6. */
const mostRounds = 12;

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
  let weights = startingWeights(sums, projectSaddle(sums));
  let sigma = Infinity;
  let start: Float64Array | null = null;
  for (let round = 1; ; round++) {
    const rows = projectSaddle(sums, sigma);
    const { columns, description } = trendModel(sums, rows, { ...parts, root: weights.root });
    const fit = fitMixed(columns, description, start ? { start } : {});
    start = fit.theta;
    const spread = spreadOf(fit, identified);
    const means = meanEffects(sums, fit, cells, parts);
    const moments = stringMoments(sums, rows, means.residual(rows));
    const next = robustWeights(sums, moments, spread);
    // Departures in units of a scatter that no measurement has say nothing, and the search for its size runs out of digits.
    if (spread.reading > finestScatter && weightChange(weights, next) > 0.01 && round < mostRounds) {
      weights = next;
      sigma = spread.reading;
      continue;
    }
    const faults = screenFaults(sums, moments, spread, means.expected(moments, spread));
    return report({ ...parts, silent, sums, fit, cells, spread, moments, weights, faults });
  }
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
  readonly covariates: readonly CentredCovariate[];
  /** Covariates asked for that the readings do not have, or that never differ. */
  readonly silent: readonly Covariate[];
  readonly cells: ReadonlyMap<number, readonly Cell[]>;
  readonly spread: Spread;
  readonly moments: readonly (readonly StringMoments[])[];
  readonly weights: Weights;
  readonly faults: readonly Fault[];
}

function report(fitted: Fitted): Trend {
  const { sums, fit, identified, cells, spread, weights, faults, covariates, silent } = fitted;
  // One call for all, since every call works out how the errors hang on the variances.
  const asked = new Combinations();
  const shop = asked.add([{ fixed: { rise: 1 } }]);
  const ofModels = [...cells].map(([model, strings]) => ({
    model,
    strings,
    nut: asked.add(identified.nut ? [nutCombination(model, identified)] : []),
    rises: asked.add(strings.map(({ string }) => riseCombination(model, string, fitted))),
  }));
  const unreadStrings = unreadCells(cells);
  const unreadNut = asked.add(identified.nut ? [nutCombination('unread', identified)] : [])[0];
  const unreadRises = asked.add(
    unreadStrings.map(({ string, isUnread }) => riseCombination('unread', string, { ...fitted, isUnread })),
  );
  const hands = identified.technicians ? asked.add(handCombinations(sums, 'rise')) : [];
  const handNuts = identified.technicianNuts ? asked.add(handCombinations(sums, 'nut')) : [];
  const perUnit = asked.add(covariates.map(({ name }) => ({ fixed: { [covariateTerm(name)]: 1 } })));
  const combined = fit.combine(asked.all);
  const estimates = combined.estimates.map((one) => widened(one, weights.varianceFactor));
  const covariance = (a: number, b: number): number => combined.covariance[a]![b]! * weights.varianceFactor;

  const covarianceOf = (asked: readonly (number | undefined)[]): number[][] =>
    asked.map((a) => asked.map((b) => (a === undefined || b === undefined ? 0 : covariance(a, b))));

  const raw = rawRises(sums);
  const models = ofModels.map(({ model, strings, nut: [nutAt], rises }): ModelTrend => {
    const nut = nutAt === undefined ? none : estimates[nutAt]!;
    return {
      model: sums.models[model]!,
      instruments: sums.modelOfInstrument.filter((of, at) => of === model && fitted.moments[at]!.length > 0).length,
      nut,
      cells: strings.map((cell, at): CellTrend => ({
        ...cell,
        rise: estimates[rises[at]!]!,
        raw: rawEstimate(raw.get(model)?.get(cell.string), nut.estimate),
      })),
      covariance: covarianceOf([nutAt, ...rises]),
    };
  });
  const unread: ModelTrend = {
    model: 'a model that was not read',
    instruments: 0,
    nut: unreadNut === undefined ? none : estimates[unreadNut]!,
    cells: unreadStrings.map(({ string, resolutionCents }, at): CellTrend => ({
      string,
      instruments: 0,
      resolutionCents,
      rise: estimates[unreadRises[at]!]!,
      raw: null,
    })),
    covariance: covarianceOf([unreadNut, ...unreadRises]),
  };
  const trend = {
    models,
    unread,
    spread,
    pooling: {
      model: deviationOf(fit, 'model', 'rise'),
      string: deviationOf(fit, 'string', 'rise'),
      modelString: deviationOf(fit, 'model:string', 'rise'),
      modelNut: deviationOf(fit, 'model', 'nut'),
    },
    hands: hands.map((at, technician): Hand => ({
      technician: sums.technicians[technician]!,
      rise: estimates[at]!,
      nut: handNuts.length > 0 ? estimates[handNuts[technician]!]! : null,
    })),
    covariates: covariates.map(({ name, missing }, at): CovariateTrend => ({
      name,
      missing,
      perUnit: estimates[perUnit[at]!]!,
    })),
    downWeighted: weights.listed,
    faults,
    sums,
  };
  return {
    ...trend,
    shop: estimates[shop[0]!]!,
    // Where strings cannot be told from single readings, their common spread counts as both: nothing is promised too narrow.
    spread: identified.instrumentStrings ? spread : { ...spread, stringRise: spread.reading * Math.hypot(1, kappa) },
    notes: trendNotes(trend, identified, { ...fit, silent }),
  };
}

/** Strings that an unread model may have: 1 to the most that models.csv allows, and whether no model at all was read on them. */
function unreadCells(
  cells: ReadonlyMap<number, readonly Cell[]>,
): { readonly string: number; readonly isUnread: boolean; readonly resolutionCents: number }[] {
  const all = [...cells.values()].flat();
  const steps = all.map(({ resolutionCents }) => resolutionCents).sort((a, b) => a - b);
  return Array.from({ length: mostStrings }, (_, at) => ({
    string: at + 1,
    isUnread: !all.some(({ string }) => string === at + 1),
    resolutionCents: steps[steps.length >> 1] ?? 0,
  }));
}

/** Combinations to ask for in one call, and where in the answer each stands. */
class Combinations {
  readonly all: Combination[] = [];

  add(combinations: readonly Combination[]): number[] {
    return combinations.map((one) => this.all.push(one) - 1);
  }
}

/** Each technician's departure from the mean hand; the last one's is minus the sum of the others'. */
function handCombinations(sums: BlockSums, kind: 'rise' | 'nut'): Combination[] {
  const last = sums.technicians.length - 1;
  return sums.technicians.map((_, technician) => ({
    fixed: Object.fromEntries(
      Array.from({ length: last }, (_unused, other): [string, number] => [
        technicianTerm(kind, other),
        technician === last ? -1 : Number(technician === other),
      ]),
    ),
  }));
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
