import { kappa } from '../acoustics/frets.ts';
import { sharedCents } from '../acoustics/rise.ts';
import type { ModelSpec } from '../logs/models.ts';
import { normalRandom } from '../statistics/random.ts';
import type { CellTrend, ModelTrend, Trend } from '../trend/trend.ts';
import type { Spread } from '../trend/string-moments.ts';
import { betweenVariance, forecastModel, possibleModels } from './forecast.ts';
import { exceedance, expectedMagnitude, type Loss } from './loss.ts';
import { invariant, neckErrors, type StringForecast } from './neck.ts';
import { ruleShare, rulesOfThumb, type RuleOfThumb } from './rules-of-thumb.ts';
import { chooseShare, saddleCost, type SaddleStrings, type ShareChoice } from './share.ts';
import { type Usage, usageWeights } from './usage.ts';
import { judge, type Verdict } from './verdict.ts';

/** One string of one model in the house standard. Errors, rises and targets in cents. */
export interface StandardEntry {
  readonly model: string;
  readonly string: number;
  /** Strings that the same saddle carries, this one included: they share one share. */
  readonly saddle: readonly number[];
  readonly share: number;
  readonly shareLow: number;
  readonly shareHigh: number;
  /** Every share from here to there costs under 0.1 cents more than the best, for the strings on this saddle together. */
  readonly fineLow: number;
  readonly fineHigh: number;
  readonly clipped: ShareChoice['clipped'];
  /** The model's rise on this string, any nut offset taken apart, with its 95 % interval; raw, of these instruments alone. */
  readonly rise: number;
  readonly riseLow: number;
  readonly riseHigh: number;
  readonly riseRaw: number | null;
  readonly riseSdBetween: number;
  readonly nut: number;
  /** Standard deviation of one reading about what it should be, rounding of the display aside. */
  readonly readingSd: number;
  /** What the 12th and the 17th should read on a typical instrument once the saddle is set, and how far from it is still right. */
  readonly target12: number;
  readonly target17: number;
  readonly window: number;
  /** Usage-weighted mean and 95th percentile of the error's magnitude on the next instrument. */
  readonly expectedError: number;
  readonly error95: number;
  readonly cost: number;
  readonly regret: number;
  readonly instruments: number;
  readonly verdict: Verdict;
  readonly reason: string;
  /** Expected cost of each rule of thumb, in cents, to be held against `cost`. */
  readonly rules: Readonly<Record<RuleOfThumb, number>>;
}

/** What models.csv told of a model when the standard was drawn up: enough to turn cents into saddle moves. */
export type StandardModel = Pick<
  ModelSpec,
  'model' | 'scaleMm' | 'strings' | 'frets' | 'saddles' | 'mmPerTurn' | 'travelMm'
>;

export interface HouseStandard {
  readonly version: 1;
  /** ISO 8601. */
  readonly created: string;
  readonly inputs: readonly { readonly path: string; readonly sha256: string }[];
  readonly options: { readonly loss: Loss; readonly usage: string; readonly seed: number };
  /** Plain sentences on what the figures contain and leave out. */
  readonly notes: readonly string[];
  /** Standard deviations in cents between instruments of one model: rise of all strings, rise of one string, nut of one string. */
  readonly spread: Omit<Spread, 'reading'>;
  /** Models of the entries that models.csv knows. */
  readonly models: readonly StandardModel[];
  readonly entries: readonly StandardEntry[];
}

export interface StandardOptions {
  readonly usage: Usage;
  /** Name of the usage profile, for the record. */
  readonly usageName: string;
  readonly loss: Loss;
  readonly created: string;
  readonly inputs: HouseStandard['inputs'];
  /** Seed of the draws behind share intervals and regret; default 1. */
  readonly seed?: number;
}

/** Number of equally likely cases over which share intervals and regret are taken. */
const cases = 100;

/** A model's neck as the policy sees it: which strings share a saddle, and how many frets there are. */
export interface Neck {
  readonly frets: number;
  readonly saddles: readonly (readonly number[])[];
}

/** Frets and saddles of a model; where models.csv is silent, 21 frets (common practice, no source) and a saddle per string. */
export function neckOf(model: ModelTrend, specs: readonly ModelSpec[]): Neck {
  const spec = specs.find((one) => one.model === model.model);
  const strings = model.cells.map((cell) => cell.string);
  const listed = (spec?.saddles ?? []).map((saddle) => saddle.filter((string) => strings.includes(string)));
  const unlisted = strings.filter((string) => !listed.some((saddle) => saddle.includes(string)));
  return {
    frets: spec?.frets ?? 21,
    saddles: [...listed.filter((saddle) => saddle.length > 0), ...unlisted.map((string) => [string])],
  };
}

/** Forecasts and usage of the strings on one saddle. */
export function saddleStrings(
  saddle: readonly number[],
  forecasts: readonly StringForecast[],
  usage: Usage,
  frets: number,
): SaddleStrings {
  const own = forecasts.filter((forecast) => saddle.includes(forecast.string));
  return { forecasts: own, usage: own.map(({ string }) => usageWeights(usage, string, frets)) };
}

/**
 * Draws up the house standard: for every model and string of the trend the share of least expected cost, with what it
 * leaves at the 12th and the 17th and what the rules of thumb would cost instead.
 *
 * @throws {RangeError} when the usage profile has no note on the frets of a model
 */
export function makeStandard(trend: Trend, specs: readonly ModelSpec[], options: StandardOptions): HouseStandard {
  const seed = options.seed ?? 1;
  const unread = specs
    .filter(({ model }) => !trend.models.some((one) => one.model === model))
    .map((spec) => unreadModel(spec, trend));
  const models = [...trend.models, ...unread];
  return {
    version: 1,
    created: options.created,
    inputs: options.inputs,
    options: { loss: options.loss, usage: options.usageName, seed },
    notes: [...trend.notes, ...unreadNote(unread)],
    spread: {
      instrumentRise: trend.spread.instrumentRise,
      stringRise: trend.spread.stringRise,
      stringNut: trend.spread.stringNut,
    },
    models: models.flatMap(({ model }) => specs.filter((spec) => spec.model === model)),
    entries: models.flatMap((model) => modelEntries(model, trend, neckOf(model, specs), { ...options, seed })),
  };
}

/** A model that models.csv knows and no reading tells of: the shop's means, with the spread between models as what is unknown. */
export function unreadModel({ model, strings }: ModelSpec, { unread }: Trend): ModelTrend {
  const { cells, covariance } = unread;
  return {
    ...unread,
    model,
    cells: cells.slice(0, strings),
    covariance: covariance.slice(0, strings + 1).map((row) => row.slice(0, strings + 1)),
  };
}

function unreadNote(unread: readonly ModelTrend[]): string[] {
  if (unread.length === 0) return [];
  const [names, its] = [unread.map(({ model }) => model).join(', '), unread.length === 1 ? 'its' : 'their'];
  return [
    `No instrument of ${names} was read at frets that tell of a rise: the shop's mean stands in, and ${its} intervals hold the spread between models.`,
  ];
}

/** How many instruments of a model the readings of all other models are worth: the spread between instruments over that between models. */
function worthOfOthers({ pooling, spread }: Trend): number {
  const betweenModels = pooling.model ** 2 + pooling.modelString ** 2;
  const ofOne = spread.instrumentRise ** 2 + spread.stringRise ** 2 + (1 + kappa ** 2) * spread.reading ** 2;
  return betweenModels > 0 ? ofOne / betweenModels : 0;
}

function modelEntries(
  model: ModelTrend,
  trend: Trend,
  neck: Neck,
  { usage, loss, seed }: StandardOptions & { seed: number },
): StandardEntry[] {
  const forecasts = forecastModel(model, trend);
  const possible = possibleModels(model, trend, cases, normalRandom(seed));
  const strings = Math.max(...model.cells.map((cell) => cell.string), ...neck.saddles.flat());
  const entries = neck.saddles.flatMap((saddle) => {
    const carried = saddleStrings(saddle, forecasts, usage, neck.frets);
    const known = possible.map((drawn) => drawn.filter(({ string }) => saddle.includes(string)));
    const choice = chooseShare(carried, known, loss);
    return carried.forecasts.map((forecast, at): StandardEntry => {
      const alone = { forecasts: [forecast], usage: [carried.usage[at]!] };
      const cell = model.cells.find((one) => one.string === forecast.string)!;
      return {
        ...describe(cell, forecast, choice, alone, { loss, strings, fromOthers: worthOfOthers(trend) }),
        model: model.model,
        saddle,
        ...between(trend, cell),
      };
    });
  });
  return entries.sort((a, b) => a.string - b.string);
}

function between(trend: Trend, cell: CellTrend): Pick<StandardEntry, 'riseSdBetween' | 'readingSd' | 'window'> {
  return {
    riseSdBetween: Math.sqrt(betweenVariance(trend)),
    readingSd: trend.spread.reading,
    window: windowCents(trend.spread.reading, cell.resolutionCents),
  };
}

function describe(
  cell: CellTrend,
  forecast: StringForecast,
  choice: ShareChoice,
  alone: SaddleStrings,
  { loss, strings, fromOthers }: { readonly loss: Loss; readonly strings: number; readonly fromOthers: number },
): Omit<StandardEntry, 'model' | 'saddle' | 'riseSdBetween' | 'readingSd' | 'window'> {
  const costOf = (share: number): number => saddleCost(share, alone, loss);
  const targets = sharedCents(choice.share, invariant(forecast.nut, forecast.rise));
  const weights = alone.usage[0]!;
  const errors = neckErrors(forecast, choice.share, weights.length);
  const rules = Object.fromEntries(
    rulesOfThumb.map((rule) => [rule, costOf(ruleShare(rule, cell.string, strings))]),
  ) as Record<RuleOfThumb, number>;
  const { verdict, reason } = judge(
    { ...choice, cost: costOf(choice.share) },
    { twelfthExact: costOf(0), seventeenthExact: costOf(1) },
    { instruments: cell.instruments, fromOthers },
  );
  return {
    string: cell.string,
    share: choice.share,
    shareLow: choice.low,
    shareHigh: choice.high,
    fineLow: choice.fineLow,
    fineHigh: choice.fineHigh,
    clipped: choice.clipped,
    rise: cell.rise.estimate,
    riseLow: cell.rise.low,
    riseHigh: cell.rise.high,
    riseRaw: cell.raw?.estimate ?? null,
    nut: forecast.nut,
    target12: targets.cents12,
    target17: targets.cents17,
    expectedError: errors.reduce((sum, error, at) => sum + weights[at]! * expectedMagnitude(error), 0),
    error95: magnitudeQuantile(0.95, errors, weights),
    cost: costOf(choice.share),
    regret: choice.regret,
    instruments: cell.instruments,
    verdict,
    reason,
    rules,
  };
}

/**
 * How far from its target a reading at the 12th may be and still count as on it, in cents: 1.96 standard deviations of one
 * reading, its own scatter and the rounding of the display (step^2 / 12) together. A smaller difference cannot be seen.
 */
export function windowCents(readingSd: number, resolutionCents: number): number {
  return 1.96 * Math.sqrt(readingSd ** 2 + resolutionCents ** 2 / 12);
}

/** The magnitude that the error at a fret drawn by usage stays under with probability p, by bisection. */
function magnitudeQuantile(p: number, errors: ReturnType<typeof neckErrors>, weights: ArrayLike<number>): number {
  let [low, high] = [0, Math.max(...errors.map(({ mean, sd }) => Math.abs(mean) + 6 * sd))];
  while (high - low > 1e-6) {
    const middle = (low + high) / 2;
    const above = errors.reduce((sum, error, at) => sum + weights[at]! * exceedance(error, middle), 0);
    if (above > 1 - p) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
