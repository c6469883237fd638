import { invariant } from '../policy/neck.ts';
import type { HouseStandard, StandardEntry } from '../policy/standard.ts';

/**
 * What the standard lets expect of one string before it is read, and what it wants done: nut offset and rise of the next
 * instrument, each normal, in cents.
 */
export interface Expectation {
  readonly nut: number;
  readonly nutSd: number;
  readonly rise: number;
  readonly riseSd: number;
  /** The part of {@link riseSd} that all strings of an instrument share, and the part of each string alone. */
  readonly instrumentSd: number;
  readonly stringSd: number;
  readonly share: number;
  readonly readingSd: number;
  /** How close to its target a reading at the 12th is close enough, by the standard. */
  readonly window: number;
  /** Strings on the same saddle by the standard, this one included. */
  readonly saddle: readonly number[];
  /** The model's own entry, or the mean of all models' entries for this string number. */
  readonly from: 'model' | 'shop';
}

/** Half-width of a 95 % interval in standard errors, many degrees of freedom. */
const normal95 = 1.96;

/**
 * What the standard expects of a string of a model. A model that the standard does not have falls back on the mean over its
 * models of that string number, and the spread between those models joins the uncertainty.
 *
 * @returns undefined where no model of the standard has such a string
 */
export function expectString(standard: HouseStandard, model: string, string: number): Expectation | undefined {
  const own = standard.entries.find((entry) => entry.model === model && entry.string === string);
  if (own) return fromEntries([own], standard, own.saddle, 'model');
  const others = standard.entries.filter((entry) => entry.string === string);
  return others.length === 0 ? undefined : fromEntries(others, standard, [string], 'shop');
}

function fromEntries(
  entries: readonly StandardEntry[],
  { spread }: HouseStandard,
  saddle: readonly number[],
  from: Expectation['from'],
): Expectation {
  const mean = (of: (entry: StandardEntry) => number): number =>
    entries.reduce((sum, entry) => sum + of(entry), 0) / entries.length;
  /** Variance between models, for the next one: 0 with one entry, where it is the model's own. */
  const between = (of: (entry: StandardEntry) => number): number =>
    entries.length === 1
      ? 0
      : (entries.reduce((sum, entry) => sum + (of(entry) - mean(of)) ** 2, 0) / (entries.length - 1)) *
        (1 + 1 / entries.length);
  // What is not known of the model's own rise moves all its instruments alike: to a string it counts with the instrument's part.
  const unknown = mean((entry) => ((entry.riseHigh - entry.riseLow) / (2 * normal95)) ** 2);
  const instrumentVariance = spread.instrumentRise ** 2 + unknown + between((entry) => entry.rise);
  return {
    nut: mean((entry) => entry.nut),
    nutSd: Math.sqrt(spread.stringNut ** 2 + between((entry) => entry.nut)),
    rise: mean((entry) => entry.rise),
    riseSd: Math.sqrt(instrumentVariance + spread.stringRise ** 2),
    instrumentSd: Math.sqrt(instrumentVariance),
    stringSd: spread.stringRise,
    share: mean((entry) => entry.share),
    readingSd: mean((entry) => entry.readingSd),
    window: mean((entry) => entry.window),
    saddle,
    from,
  };
}

/** Expected `t = cents17 - kappa cents12`, in cents: the rise with the nut's part in it. */
export function expectedInvariant({ nut, rise }: Expectation): number {
  return invariant(nut, rise);
}
