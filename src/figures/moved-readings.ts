import { saddleLeverage } from '../acoustics/frets.ts';
import { type BlockSums, meanAt } from '../sources/block-sums.ts';
import type { ModelTrend } from '../trend/trend.ts';

/** One technician's readings at one fret of a block, as if the saddle stood where the 12th is exact; cents. */
export interface MovedReading {
  readonly instrument: string;
  readonly string: number;
  readonly pass: number;
  readonly technician: string;
  readonly fret: number;
  readonly cents: number;
  /** Readings that `cents` is the mean of. */
  readonly readings: number;
}

/**
 * Readings of a model as if every saddle stood where its 12th is exact: `cents - cents12 g(n)`, by block. A block without a
 * reading at the 12th cannot be moved and is only counted.
 */
export function movedReadings(
  sums: BlockSums,
  model: ModelTrend,
): { readonly blocks: MovedReading[][]; readonly withoutTwelfth: number } {
  const strings = new Set(model.cells.map((cell) => cell.string));
  const own = [...sums.blockString.keys()].filter(
    (block) =>
      sums.models[sums.modelOfInstrument[sums.blockInstrument[block]!]!] === model.model &&
      strings.has(sums.blockString[block]!),
  );
  const blocks = own.flatMap((block) => {
    const twelfth = meanAt(sums, block, 12);
    if (twelfth === undefined) return [];
    const first = sums.blockStart[block]!;
    return [
      Array.from({ length: sums.blockStart[block + 1]! - first }, (_, at): MovedReading => {
        const cell = first + at;
        const fret = sums.cellFret[cell]!;
        return {
          instrument: sums.instruments[sums.blockInstrument[block]!]!,
          string: sums.blockString[block]!,
          pass: sums.blockPass[block]!,
          technician: sums.technicians[sums.cellTechnician[cell]!]!,
          fret,
          cents: sums.cellMean[cell]! - twelfth * saddleLeverage(fret),
          readings: sums.cellCount[cell]!,
        };
      }),
    ];
  });
  return { blocks, withoutTwelfth: own.length - blocks.length };
}
