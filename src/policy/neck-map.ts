import { saddleLeverage } from '../acoustics/frets.ts';
import type { ModelSpec } from '../logs/models.ts';
import { normalQuantile } from '../statistics/distributions.ts';
import type { Trend } from '../trend/trend.ts';
import { forecastModel } from './forecast.ts';
import type { NormalError } from './loss.ts';
import { neckErrors, type StringForecast } from './neck.ts';
import { type ReceivedTwelfth, receivedTwelfths } from './received.ts';
import { type HouseStandard, neckOf, type StandardEntry, unreadModel } from './standard.ts';

/** Error of one note in cents, open string in tune, and the range that holds it 95 times in 100. */
export interface NoteError {
  readonly cents: number;
  readonly low: number;
  readonly high: number;
  /** Whether the note was read, and not predicted from others. */
  readonly isRead: boolean;
}

/** One string before and after its saddle is set by the standard; entry n of a list is fret n, and fret 0 is in tune. */
export interface NeckString {
  readonly string: number;
  readonly before: readonly NoteError[];
  readonly after: readonly NoteError[];
}

/** Errors at every string and fret of the next instrument of a model, or of one instrument. */
export interface NeckMap {
  readonly model: string;
  /** null: the next instrument of the model. */
  readonly instrument: string | null;
  readonly before: '12th exact' | 'as received';
  readonly frets: number;
  /** From string 1, the thinnest. */
  readonly strings: readonly NeckString[];
  /** Strings of the standard that are not shown: no reading tells where their saddle stood as received. */
  readonly unread: readonly number[];
  /** Whether readings tell nut offsets apart; otherwise they count as 0, and notes far from a read one may err by more. */
  readonly isNutKnown: boolean;
}

/** What a map is made from: a trend, the standard made from it, and models.csv. */
export interface NeckMapOptions {
  readonly trend: Trend;
  readonly standard: HouseStandard;
  readonly specs: readonly ModelSpec[];
}

/** The open string, in tune by definition. */
export const openNote: NoteError = { cents: 0, low: 0, high: 0, isRead: false };

const reach = normalQuantile(0.975);

/** A note whose error is normal, with its central 95 %. */
export function noteError({ mean, sd }: NormalError, isRead = false): NoteError {
  return { cents: mean, low: mean - reach * sd, high: mean + reach * sd, isRead };
}

/**
 * What the next instrument of a model is expected to read at every string and fret, before and after each saddle is set by
 * the standard: each instrument's own rise shared as the standard says. As in the standard's own costs, strings on one saddle
 * count as if each could be set by itself, so their ranges after are a little narrow.
 *
 * @param from what stands before: every 12th exact, or saddles where instruments of the model came in with them
 * @throws {RangeError} when the standard does not hold the model, or when nothing tells how its saddles came in
 */
export function modelNeckMap(
  model: string,
  { from, ...options }: NeckMapOptions & { readonly from: NeckMap['before'] },
): NeckMap {
  const { frets, entries, forecasts, isNutKnown } = modelParts(model, options);
  const received = from === 'as received' ? receivedTwelfths(options.trend, model) : null;
  const shown = forecasts.filter(({ string }) => !received || received.has(string));
  const notes = (errors: readonly NormalError[]): NoteError[] => [openNote, ...errors.map((one) => noteError(one))];
  return {
    model,
    instrument: null,
    before: from,
    frets,
    strings: shown.map((forecast) => ({
      string: forecast.string,
      before: notes(
        received ? receivedErrors(forecast, received.get(forecast.string)!, frets) : neckErrors(forecast, 0, frets),
      ),
      after: notes(neckErrors(forecast, entries.get(forecast.string)!.share, frets)),
    })),
    unread: forecasts.filter((one) => !shown.includes(one)).map(({ string }) => string),
    isNutKnown,
  };
}

/** What trend and standard say of a model, for the strings that both hold. */
export interface ModelParts {
  readonly frets: number;
  readonly entries: ReadonlyMap<number, StandardEntry>;
  readonly forecasts: readonly StringForecast[];
  readonly isNutKnown: boolean;
}

/**
 * A model's frets, forecasts and entries. For a model that nobody has read the shop's means stand in, as in the standard.
 *
 * @throws {RangeError} when the standard does not hold the model, or holds one that neither trend nor models.csv does
 */
export function modelParts(model: string, { trend, standard, specs }: NeckMapOptions): ModelParts {
  const own = standard.entries.filter((entry) => entry.model === model);
  const spec = specs.find((one) => one.model === model);
  const found = trend.models.find((one) => one.model === model) ?? (spec && unreadModel(spec, trend));
  if (!found || own.length === 0) {
    const known = [...new Set(standard.entries.map((entry) => entry.model))].join(', ');
    throw new RangeError(
      own.length === 0
        ? `Cannot map the neck of "${model}": the standard does not hold it; expected one of ${known}`
        : `Cannot map the neck of "${model}": the trend does not hold it; expected the trend that the standard was made from`,
    );
  }
  const entries = new Map(own.map((entry) => [entry.string, entry]));
  const forecasts = forecastModel(found, trend).filter(({ string }) => entries.has(string));
  const isNutKnown = found.nut.estimate !== 0 || found.nut.standardError > 0;
  return { frets: neckOf(found, specs).frets, entries, forecasts, isNutKnown };
}

/**
 * Errors at frets 1 to `frets` with the saddle as received, where the 12th reads E: `e(n) = N (1 - g(n)) + R u(n) + E g(n)`,
 * that is share 0, which makes the 12th exact, and a saddle term. E, set by the hands before, counts as independent of nut
 * offset and rise.
 */
function receivedErrors(forecast: StringForecast, { mean, sd }: ReceivedTwelfth, frets: number): NormalError[] {
  return neckErrors(forecast, 0, frets).map((exact, at) => {
    const leverage = saddleLeverage(at + 1);
    return { mean: exact.mean + leverage * mean, sd: Math.hypot(exact.sd, leverage * sd) };
  });
}
