import { mean } from '../statistics/location-scale.ts';
import type { ColumnTable } from 'arquero';
import { kappa } from '../acoustics/frets.ts';
import { rise, sharedCents } from '../acoustics/rise.ts';
import type { HouseStandard, StandardEntry } from '../policy/standard.ts';
import { type BlockSums, meanAt, sumReadings } from '../sources/block-sums.ts';
import { instantOf } from './instant.ts';

/** One string as a technician left it. */
export interface LeftString {
  readonly string: number;
  /** Cents by which the 12th reads sharper than the standard would have it on this very string; 0 where the standard was followed. */
  readonly departure: number;
  /** How far from 0 it may be and still count as on it. */
  readonly window: number;
}

/** One instrument as it left the bench. */
export interface LeftInstrument {
  readonly instrument: string;
  readonly model: string;
  /** Who read it last; '' where the log does not say. */
  readonly technician: string;
  /** When, in milliseconds since 1970 UTC; null where the log does not say. */
  readonly at: number | null;
  readonly strings: readonly LeftString[];
  /** Mean departure of its saddles, in cents. */
  readonly departure: number;
  /** Standard deviation of that mean which comes of reading alone, in cents. */
  readonly noise: number;
}

/** What a log tells of how instruments were left. */
export interface LeftReadings {
  /** In order of time; those without a date come last, in the order of the log. */
  readonly instruments: readonly LeftInstrument[];
  /** Instruments with readings as received only: nothing tells how they were left. */
  readonly onlyReceived: readonly string[];
  /** Instruments of which the standard knows no string, or that lack the 12th or the 17th on all. */
  readonly unusable: readonly string[];
}

/**
 * How far each instrument was left from the house standard: the last pass of each string, of every instrument that has a pass
 * after the first.
 *
 * A string's own rise t is shared as the standard says, so that following it gives 0: with the share q the 12th should read
 * `-q t / kappa`, and the departure is `c12 + q t / kappa = (1 - q) c12 + (q / kappa) c17`. Strings on one saddle share a move: the
 * mean of their departures counts once.
 *
 * @param readings Arquero table of readings as `readLogs` gives it
 */
export function leftInstruments(readings: ColumnTable, standard: HouseStandard): LeftReadings {
  const sums = sumReadings(readings);
  const entries = new Map(standard.entries.map((entry) => [`${entry.model}\n${entry.string}`, entry]));
  const dates = lastDates(readings);
  const blocksOf = sums.instruments.map((): number[] => []);
  sums.blockInstrument.forEach((instrument, block) => blocksOf[instrument]!.push(block));
  const [instruments, onlyReceived, unusable]: [LeftInstrument[], string[], string[]] = [[], [], []];
  sums.instruments.forEach((instrument, at) => {
    const blocks = blocksOf[at]!;
    if (new Set(blocks.map((block) => sums.blockPass[block]!)).size < 2) {
      onlyReceived.push(instrument);
      return;
    }
    const model = sums.models[sums.modelOfInstrument[at]!]!;
    // Blocks stand sorted by string, then pass: the last of a string is how it was left.
    const last = new Map(blocks.map((block) => [sums.blockString[block]!, block]));
    const strings = [...last.values()].flatMap((block) => {
      const entry = entries.get(`${model}\n${sums.blockString[block]!}`);
      const [cents12, cents17] = [meanAt(sums, block, 12), meanAt(sums, block, 17)];
      if (!entry || cents12 === undefined || cents17 === undefined) return [];
      const departure = cents12 - sharedCents(entry.share, rise(cents12, cents17)).cents12;
      return [{ entry, departure }];
    });
    if (strings.length === 0) unusable.push(instrument);
    else
      instruments.push({
        instrument,
        model,
        technician: readerOf(sums, [...last.values()]),
        at: dates.get(instrument) ?? null,
        strings: strings.map(({ entry, departure }) => ({ string: entry.string, departure, window: entry.window })),
        departure: meanOfSaddles(strings),
        noise: Math.hypot(...strings.map(({ entry }) => departureNoise(entry.share, entry.readingSd))) / strings.length,
      });
  });
  return {
    instruments: instruments.sort((a, b) => (a.at ?? Infinity) - (b.at ?? Infinity) || 0),
    onlyReceived,
    unusable,
  };
}

/**
 * Standard deviation of a departure that comes of reading alone, in cents: `sd sqrt((1 - q)^2 + (q / kappa)^2)`, where one reading
 * scatters by `sd`.
 */
export function departureNoise(share: number, readingSd: number): number {
  return readingSd * Math.hypot(1 - share, share / kappa);
}

/** The mean over saddles of the mean over each one's strings. */
function meanOfSaddles(strings: readonly { readonly entry: StandardEntry; readonly departure: number }[]): number {
  const saddles = new Map<string, number[]>();
  for (const { entry, departure } of strings) {
    const key = entry.saddle.join(' ');
    saddles.set(key, [...(saddles.get(key) ?? []), departure]);
  }
  return mean([...saddles.values()].map(mean));
}

/** The technician of most readings in some blocks. */
export function readerOf(sums: BlockSums, blocks: readonly number[]): string {
  const counts = new Map<number, number>();
  for (const block of blocks)
    for (let cell = sums.blockStart[block]!; cell < sums.blockStart[block + 1]!; cell++)
      counts.set(sums.cellTechnician[cell]!, (counts.get(sums.cellTechnician[cell]!) ?? 0) + sums.cellCount[cell]!);
  const [most] = [...counts].reduce((best, one) => (one[1] > best[1] ? one : best));
  return sums.technicians[most]!;
}

/** The latest date of each instrument's readings. */
function lastDates(readings: ColumnTable): Map<string, number> {
  const dates = new Map<string, number>();
  if (!readings.columnNames().includes('measuredAt')) return dates;
  const instruments = readings.array('instrument') as ArrayLike<string>;
  const texts = readings.array('measuredAt') as ArrayLike<string | null>;
  const known = new Map<string, number>();
  for (let row = 0; row < texts.length; row++) {
    const text = texts[row];
    if (text === null || text === undefined || text === '') continue;
    const at = known.get(text) ?? instantOf(text);
    known.set(text, at);
    dates.set(instruments[row]!, Math.max(dates.get(instruments[row]!) ?? -Infinity, at));
  }
  return dates;
}
