import type { BlockSums } from './block-sums.ts';

/** The sums of some blocks alone, in the order given; models, instruments and technicians keep their places. */
export function selectBlocks(sums: BlockSums, blocks: readonly number[]): BlockSums {
  const { blockStart } = sums;
  const starts = [0];
  for (const block of blocks) starts.push(starts.at(-1)! + blockStart[block + 1]! - blockStart[block]!);
  const cells = blocks.flatMap((block) =>
    Array.from({ length: blockStart[block + 1]! - blockStart[block]! }, (_, at) => blockStart[block]! + at),
  );
  const whole = (from: Int32Array, places: readonly number[]): Int32Array => Int32Array.from(places, (at) => from[at]!);
  const real = (from: Float64Array, places: readonly number[]): Float64Array =>
    Float64Array.from(places, (at) => from[at]!);
  return {
    ...sums,
    blockInstrument: whole(sums.blockInstrument, blocks),
    blockString: whole(sums.blockString, blocks),
    blockPass: whole(sums.blockPass, blocks),
    blockStart: Int32Array.from(starts),
    blockCovariates: Object.fromEntries(
      Object.entries(sums.blockCovariates).map(([name, values]) => [name, real(values, blocks)]),
    ),
    cellTechnician: whole(sums.cellTechnician, cells),
    cellFret: whole(sums.cellFret, cells),
    cellCount: real(sums.cellCount, cells),
    cellMean: real(sums.cellMean, cells),
    cellSquares: real(sums.cellSquares, cells),
    cellResolution: real(sums.cellResolution, cells),
  };
}
