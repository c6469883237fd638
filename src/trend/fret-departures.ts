import { saddleLeverage } from '../acoustics/frets.ts';
import type { BlockSums } from '../sources/block-sums.ts';

/** The mean residual of one instrument at one fret over strings and passes, the saddle's part removed. */
export interface FretDeparture {
  readonly instrument: number;
  readonly fret: number;
  readonly strings: readonly number[];
  readonly cents: number;
  readonly z: number;
}

/**
 * What each fret of each many-fret instrument reads, beyond nut, rise and saddle fitted to its strings.
 *
 * @param expected  per cell of `sums`: what it is expected to read but for the saddle, instrument and string deviations included
 * @param readingSd standard deviation of one reading, in cents
 */
export function fretDepartures(sums: BlockSums, expected: ArrayLike<number>, readingSd: number): FretDeparture[] {
  const byFret = sums.instruments.map(() => new Map<number, { sum: number; count: number; strings: Set<number> }>());
  const squares = sums.instruments.map(() => ({ sum: 0, df: 0 }));
  for (let block = 0; block < sums.blockString.length; block++) {
    const [from, to] = [sums.blockStart[block]!, sums.blockStart[block + 1]!];
    if (to - from < 4) continue;
    let [gg, gy] = [0, 0];
    for (let cell = from; cell < to; cell++) {
      const g = saddleLeverage(sums.cellFret[cell]!);
      gg += sums.cellCount[cell]! * g * g;
      gy += sums.cellCount[cell]! * g * (sums.cellMean[cell]! - expected[cell]!);
    }
    const instrument = sums.blockInstrument[block]!;
    for (let cell = from; cell < to; cell++) {
      const fret = sums.cellFret[cell]!;
      const count = sums.cellCount[cell]!;
      const left = sums.cellMean[cell]! - expected[cell]! - (gy / gg) * saddleLeverage(fret);
      const at = byFret[instrument]!.get(fret) ?? { sum: 0, count: 0, strings: new Set() };
      byFret[instrument]!.set(fret, at);
      at.sum += count * left;
      at.count += count;
      at.strings.add(sums.blockString[block]!);
      squares[instrument]!.sum += count * left * left;
    }
    squares[instrument]!.df += to - from - 1;
  }
  return byFret.flatMap((frets, instrument) =>
    [...frets].map(([fret, { sum, count, strings }]) => {
      // An instrument whose readings scatter is held against its own scatter, without the fret in question.
      const rest = Math.max(0, squares[instrument]!.sum - sum ** 2 / count) / Math.max(1, squares[instrument]!.df - 1);
      const sd = Math.max(readingSd, Math.sqrt(rest));
      const cents = sum / count;
      return {
        instrument,
        fret,
        strings: [...strings].sort((a, b) => a - b),
        cents,
        z: (cents * Math.sqrt(count)) / sd,
      };
    }),
  );
}
