import { kappa } from '../acoustics/frets.ts';
import type { HouseStandard, StandardEntry } from '../policy/standard.ts';
import { negligibleCents } from '../policy/share.ts';
import { normalQuantile } from '../statistics/distributions.ts';

/** What is wanted of a model's standard: a 95 % interval of its rises no wider than +- so many cents, or a regret no larger. */
export type Wanted = { readonly halfWidth: number } | { readonly regret: number };

/** How many more instruments of a model to measure. */
export interface SampleSize {
  readonly model: string;
  /** The string that needs most. */
  readonly string: number;
  readonly instruments: number;
  /** Half-width of its 95 % interval in cents and its regret, now. */
  readonly halfWidth: number;
  readonly regret: number;
  /** How many more, where each is read `repeats` times at the 12th and the 17th; by the repeats asked for. */
  readonly more: readonly { readonly repeats: number; readonly instruments: number }[];
}

/** The regret up to which more instruments would not change a standard: the design's own line. */
export const wantedRegret: Wanted = { regret: negligibleCents };

const z = normalQuantile(0.975);

/**
 * Variance of one instrument's rise about its model's, in cents squared: between instruments, and of reading the 12th and the 17th
 * `repeats` times each, `sd^2 (1 + kappa^2) / repeats`.
 */
export function riseVariance(
  { riseSdBetween, readingSd }: Pick<StandardEntry, 'riseSdBetween' | 'readingSd'>,
  repeats: number,
): number {
  return riseSdBetween ** 2 + ((1 + kappa ** 2) * readingSd ** 2) / repeats;
}

/**
 * More instruments needed for a string of a model, by the information that each adds: with the variance V of the rise now and v of
 * one more instrument, n more leave `1 / (1 / V + n / v)`. What is known from other models stays in V. For a regret, V must shrink
 * as the regret does: to first order the cost of a wrong share grows with the square of the error in the rise.
 *
 * @param entry   of the standard; its interval gives V
 * @param repeats how often each new instrument is read at the 12th and the 17th
 * @returns 0 where what is wanted is reached
 */
export function moreInstruments(entry: StandardEntry, wanted: Wanted, repeats: number): number {
  const now = ((entry.riseHigh - entry.riseLow) / (2 * z)) ** 2;
  const then = 'halfWidth' in wanted ? (wanted.halfWidth / z) ** 2 : now * (wanted.regret / entry.regret);
  if (!(then < now)) return 0;
  return Math.ceil(riseVariance(entry, repeats) * (1 / then - 1 / now) - 1e-9);
}

/**
 * How many more instruments each model needs, for its neediest string.
 *
 * @param repeats numbers of readings of each new instrument to compare; default once and three times
 * @throws {RangeError} when what is wanted is not above 0
 */
export function sampleSizes(
  standard: HouseStandard,
  wanted: Wanted = wantedRegret,
  repeats: readonly number[] = [1, 3],
): SampleSize[] {
  const size = 'halfWidth' in wanted ? wanted.halfWidth : wanted.regret;
  if (!(size > 0))
    throw new RangeError(`Cannot reach ${size} cents with any number of instruments; expected more than 0`);
  return [...new Set(standard.entries.map(({ model }) => model))].map((model) => {
    const own = standard.entries.filter((entry) => entry.model === model);
    const needs = own.map((entry) => repeats.map((times) => moreInstruments(entry, wanted, times)));
    const most = needs.reduce((best, need, at) => (need[0]! > needs[best]![0]! ? at : best), 0);
    const entry = own[most]!;
    return {
      model,
      string: entry.string,
      instruments: entry.instruments,
      halfWidth: (entry.riseHigh - entry.riseLow) / 2,
      regret: entry.regret,
      more: repeats.map((times, at) => ({ repeats: times, instruments: Math.max(...needs.map((need) => need[at]!)) })),
    };
  });
}
