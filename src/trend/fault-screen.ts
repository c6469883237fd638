import type { BlockSums } from '../sources/block-sums.ts';
import { chiSquaredCdf } from '../statistics/distributions.ts';
import { departure, type StringDeparture } from './departures.ts';
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
  const frets = sums.instruments.map((): FretDeparture[] => []);
  for (const one of fretDepartures(sums, expected, spread.reading)) frets[one.instrument]!.push(one);
  return moments.flatMap((strings, at) =>
    screenInstrument(
      { instrument: sums.instruments[at]!, model: sums.models[sums.modelOfInstrument[at]!]! },
      strings,
      spread,
      frets[at]!,
    ),
  );
}

/** Matches one instrument's departures to the patterns. The strongest pattern that explains a string is named, not every one. */
function screenInstrument(
  name: { readonly instrument: string; readonly model: string },
  moments: readonly StringMoments[],
  spread: Spread,
  frets: readonly FretDeparture[],
): Fault[] {
  const { strings } = departure(moments, spread);
  const numbers = strings.map(({ string }) => string).sort((a, b) => a - b);
  const faults: Fault[] = [];
  const scattering = poorRepeats(strings);
  if (scattering) {
    faults.push({
      ...name,
      kind: 'poor-low-strings',
      strings: scattering.strings,
      frets: [],
      cents: spread.reading * Math.sqrt(scattering.ratio),
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
  const alone = steady.filter(({ z }) => twoSided(z) < stringLevel);
  // One outlying string pulls the whole instrument along: judge the others without it.
  const others = alone.length === 1 ? moments.filter(({ string }) => string !== alone[0]!.string) : moments;
  const together = departure(others, spread);
  const p = twoSided(together.z);
  if (p < instrumentLevel && numbers.length > 1)
    faults.push({
      ...name,
      kind: together.rise > 0 ? 'all-strings-high' : 'all-strings-low',
      strings: numbers,
      frets: [],
      cents: together.rise,
      p,
      message: `all strings together rise ${signed(together.rise)} cents against the model: check first ${together.rise > 0 ? 'for a high action, a high nut or a heavy hand' : 'whether the open strings were in tune and the hand was light'}`,
    });
  else
    for (const { string, rise, z } of alone)
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

/** Strings that scatter beyond chance: at least two, all in the lower half; with their variance ratio and p. */
function poorRepeats(strings: readonly StringDeparture[]): { strings: number[]; ratio: number; p: number } | undefined {
  const count = Math.max(...strings.map(({ string }) => string));
  const scattering = strings.filter(
    ({ repeatSquares, repeatDf }) =>
      repeatDf > 0 && repeatSquares > 4 * repeatDf && 1 - chiSquaredCdf(repeatSquares, repeatDf) < stringLevel,
  );
  // One string alone is one wild reading, or that string's own fault.
  if (scattering.length < 2 || scattering.some(({ string }) => string <= count / 2)) return undefined;
  const squares = scattering.reduce((sum, one) => sum + one.repeatSquares, 0);
  const df = scattering.reduce((sum, one) => sum + one.repeatDf, 0);
  return {
    strings: scattering.map(({ string }) => string).sort((a, b) => a - b),
    ratio: squares / df,
    p: 1 - chiSquaredCdf(squares, df),
  };
}
