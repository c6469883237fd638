import type { BlockSums } from '../sources/block-sums.ts';
import { huberLocation, medianAbsoluteDeviation } from '../statistics/location-scale.ts';
import type { Trend } from '../trend/trend.ts';

/** The error at the 12th with which the next instrument will come in, in cents: its mean and standard deviation. */
export interface ReceivedTwelfth {
  readonly mean: number;
  readonly sd: number;
}

/** One string of one instrument on its first pass: the mean over the readings at each fret. */
export interface FirstPass {
  readonly instrument: number;
  readonly string: number;
  readonly readings: readonly { readonly fret: number; readonly cents: number; readonly variance: number }[];
}

/**
 * The first pass of every string in the sums, as received.
 *
 * @param readingSd scatter of one reading in cents; a mean of k readings shown in steps of s has variance
 *                  `readingSd^2 / k + s^2 / 12`
 */
export function firstPasses(sums: BlockSums, readingSd: number): FirstPass[] {
  const seen = new Set<string>();
  const passes: FirstPass[] = [];
  for (let block = 0; block < sums.blockString.length; block++) {
    const [instrument, string] = [sums.blockInstrument[block]!, sums.blockString[block]!];
    if (seen.has(`${instrument}/${string}`)) continue;
    seen.add(`${instrument}/${string}`);
    const frets = new Map<number, { sum: number; count: number; step: number }>();
    for (let cell = sums.blockStart[block]!; cell < sums.blockStart[block + 1]!; cell++) {
      const at = frets.get(sums.cellFret[cell]!) ?? { sum: 0, count: 0, step: 0 };
      frets.set(sums.cellFret[cell]!, at);
      at.sum += sums.cellMean[cell]! * sums.cellCount[cell]!;
      at.count += sums.cellCount[cell]!;
      at.step = Math.max(at.step, sums.cellResolution[cell]!);
    }
    const readings = [...frets].map(([fret, { sum, count, step }]) => ({
      fret,
      cents: sum / count,
      variance: readingSd ** 2 / count + step ** 2 / 12,
    }));
    passes.push({ instrument, string, readings });
  }
  return passes;
}

/**
 * How the strings of a model come in at the 12th: a robust mean per string, and one robust spread over the whole shop (its
 * models' saddles were set by the same few hands), the scatter of a reading taken off and the uncertainty of the mean added.
 * Strings never read at the 12th are left out.
 *
 * @throws {RangeError} when no string of the model was read at the 12th, or no string of any model on two instruments
 */
export function receivedTwelfths(trend: Trend, model: string): Map<number, ReceivedTwelfth> {
  const { sums, spread } = trend;
  const cells = new Map<string, { string: number; model: string; errors: number[] }>();
  const noise: number[] = [];
  for (const { instrument, string, readings } of firstPasses(sums, spread.reading)) {
    const twelfth = readings.find(({ fret }) => fret === 12);
    if (!twelfth) continue;
    const of = sums.models[sums.modelOfInstrument[instrument]!]!;
    const cell = cells.get(`${string}/${of}`) ?? { string, model: of, errors: [] };
    cells.set(`${string}/${of}`, cell);
    cell.errors.push(twelfth.cents);
    noise.push(twelfth.variance);
  }
  const own = [...cells.values()].filter((cell) => cell.model === model);
  const residuals = [...cells.values()].flatMap(({ errors }) => {
    const { location } = huberLocation(errors);
    // A mean of n fits its own n values too well.
    return errors.length > 1
      ? errors.map((error) => (error - location) * Math.sqrt(errors.length / (errors.length - 1)))
      : [];
  });
  if (own.length === 0 || residuals.length === 0)
    throw new RangeError(
      `Cannot tell how saddles of "${model}" come in: ${own.length === 0 ? 'none of its strings was read at the 12th' : 'no string of any model was read at the 12th on two instruments'}; expected such readings on the first pass, or ask for "12th exact"`,
    );
  const seen = medianAbsoluteDeviation(residuals, 0);
  const variance = Math.max(0, seen ** 2 - noise.reduce((sum, one) => sum + one, 0) / noise.length);
  return new Map(
    own.map(({ string, errors }) => [
      string,
      { mean: huberLocation(errors).location, sd: Math.sqrt(variance + seen ** 2 / errors.length) },
    ]),
  );
}
