import type { BlockSums } from '../sources/block-sums.ts';
import { chiSquaredCdf } from '../statistics/distributions.ts';
import { departure, type InstrumentDeparture, type StringDeparture } from './departures.ts';
import { type FretDeparture, fretDepartures } from './fret-departures.ts';
import type { Spread, StringMoments } from './string-moments.ts';

/** A pattern in an instrument's readings that the trade knows. Common practice, no source. */
export type FaultKind = 'all-strings-high' | 'all-strings-low' | 'one-string' | 'poor-low-strings' | 'one-fret';

/** A suspicion about one instrument; it changes no data. */
export interface Fault {
  readonly instrument: string;
  readonly model: string;
  readonly kind: FaultKind;
  readonly strings: readonly number[];
  readonly frets: readonly number[];
  /** Size of the departure in cents (for poor repeatability, the standard deviation of a reading). */
  readonly cents: number;
  /** Probability of a departure this large on a sound instrument. */
  readonly p: number;
  /** What was seen and what to check first. */
  readonly message: string;
}

/** One chance in so many, per instrument and pattern, of suspecting a sound one. */
const instrumentLevel = 1e-3;
const stringLevel = 1e-4;

const twoSided = (z: number): number => 1 - chiSquaredCdf(z * z, 1);
const signed = (cents: number): string => `${cents < 0 ? '−' : '+'}${Math.abs(cents).toFixed(1)}`;

/**
 * Screens every instrument for the patterns.
 *
 * @param moments  per instrument and string, of the residuals against the model
 * @param expected per cell of the sums, see `fretDepartures`
 */
export function screenFaults(
  sums: BlockSums,
  moments: readonly (readonly StringMoments[])[],
  spread: Spread,
  expected: ArrayLike<number>,
): Fault[] {
  const frets = fretDepartures(sums, expected, spread.reading);
  return moments.flatMap((strings, at) =>
    screenInstrument(
      { instrument: sums.instruments[at]!, model: sums.models[sums.modelOfInstrument[at]!]! },
      departure(strings, spread),
      frets.filter(({ instrument }) => instrument === at),
      spread.reading,
    ),
  );
}

/** Matches one instrument's departures to the patterns. The strongest pattern that explains a string is named, not every one. */
function screenInstrument(
  name: { readonly instrument: string; readonly model: string },
  departure: InstrumentDeparture,
  frets: readonly FretDeparture[],
  readingSd: number,
): Fault[] {
  const { strings } = departure;
  const numbers = strings.map(({ string }) => string).sort((a, b) => a - b);
  const faults: Fault[] = [];
  const scattering = poorRepeats(strings);
  if (scattering) {
    faults.push({
      ...name,
      kind: 'poor-low-strings',
      strings: scattering.strings,
      frets: [],
      cents: readingSd * Math.sqrt(scattering.ratio),
      p: scattering.p,
      message: `strings ${scattering.strings.join(', ')} read ${Math.sqrt(scattering.ratio).toFixed(1)} times less repeatably than usual: check first whether a pickup stands too close to them`,
    });
  }
  const fret = frets
    .filter(({ strings: read, cents }) => read.length >= Math.min(3, numbers.length) && Math.abs(cents) > 1)
    .map((one) => ({ ...one, p: twoSided(one.z) }))
    .sort((a, b) => Math.abs(b.z) - Math.abs(a.z))[0];
  if (fret && fret.p < stringLevel && numbers.length > 1 && !scattering)
    faults.push({
      ...name,
      kind: 'one-fret',
      strings: fret.strings,
      frets: [fret.fret],
      cents: fret.cents,
      p: fret.p,
      message: `fret ${fret.fret} reads ${signed(fret.cents)} cents on every string: check first for a worn, loose or misplaced fret`,
    });
  const steady = strings.filter(({ string }) => !scattering?.strings.includes(string));
  const high = twoSided(departure.z);
  const spread = steady.filter(({ z }) => twoSided(z) < stringLevel);
  if (high < instrumentLevel && spread.length !== 1 && numbers.length > 1)
    faults.push({
      ...name,
      kind: departure.rise > 0 ? 'all-strings-high' : 'all-strings-low',
      strings: numbers,
      frets: [],
      cents: departure.rise,
      p: high,
      message: `all strings together rise ${signed(departure.rise)} cents against the model: check first ${departure.rise > 0 ? 'for a high action, a high nut or a heavy hand' : 'whether the open strings were in tune and the hand was light'}`,
    });
  else
    for (const { string, rise, z } of spread)
      faults.push({
        ...name,
        kind: 'one-string',
        strings: [string],
        frets: [],
        cents: rise,
        p: twoSided(z),
        message: `string ${string} alone rises ${signed(rise)} cents against the model: check first for an old or damaged string, then its nut slot`,
      });
  return faults;
}

/** The lower half of the strings scatters beyond chance and far more than the upper half: its strings, variance ratio and p. */
function poorRepeats(strings: readonly StringDeparture[]): { strings: number[]; ratio: number; p: number } | undefined {
  const sorted = [...strings].sort((a, b) => a.string - b.string);
  const half = Math.ceil(sorted.length / 2);
  const pool = (part: readonly StringDeparture[]): { squares: number; df: number } =>
    part.reduce((sum, one) => ({ squares: sum.squares + one.repeatSquares, df: sum.df + one.repeatDf }), {
      squares: 0,
      df: 0,
    });
  const [upper, lower] = [pool(sorted.slice(0, half)), pool(sorted.slice(half))];
  if (lower.df === 0) return undefined;
  const ratio = lower.squares / lower.df;
  const p = 1 - chiSquaredCdf(lower.squares, lower.df);
  if (p > stringLevel || ratio < 4 || (upper.df > 0 && ratio < 4 * (upper.squares / upper.df))) return undefined;
  return { strings: sorted.slice(half).map(({ string }) => string), ratio, p };
}
