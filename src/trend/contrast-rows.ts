import { riseShape, saddleLeverage } from '../acoustics/frets.ts';
import type { BlockSums } from '../sources/block-sums.ts';

/**
 * The readings with the saddle projected out: one row per block and fret beyond the first, every row of unit weight.
 *
 * For a block with means y, weights w, and leverages g, `W^(1/2) [y, x]` is turned by the Householder reflection that sends
 * `W^(1/2) g` to the first axis; the rows after the first no longer depend on where the saddle stands. With readings at
 * the 12th and the 17th alone one row is left, the rise t over `sqrt(1 + kappa^2)`. Where a cell holds repeats, their
 * spread about the cell mean joins as rows without any effect, which is exact for the likelihood.
 */
export interface ContrastRows {
  /** Per row: the block it belongs to, or that its repeats belong to. */
  readonly block: Int32Array;
  readonly response: Float64Array;
  /** Per row: the covariate of a nut offset (1 at every fret) and of a rise (u(n)), projected. */
  readonly nut: Float64Array;
  readonly rise: Float64Array;
  /** Per technician and row: the same two covariates for that technician's readings alone, 0 for others'. */
  readonly nutByTechnician: readonly Float64Array[];
  readonly riseByTechnician: readonly Float64Array[];
}

/**
 * Projects the saddle out of every block.
 *
 * @param sigma standard deviation of one reading in cents, against which the rounding variance `step^2 / 12` of a coarse
 *              reading is weighed; `Infinity` leaves rounding out
 */
export function projectSaddle(sums: BlockSums, sigma = Infinity): ContrastRows {
  const blocks = sums.blockString.length;
  let size = 0;
  for (let block = 0; block < blocks; block++) {
    const [from, to] = [sums.blockStart[block]!, sums.blockStart[block + 1]!];
    size += to - from - 1;
    for (let cell = from; cell < to; cell++) size += sums.cellCount[cell]! - 1;
  }
  const rows = {
    block: new Int32Array(size),
    response: new Float64Array(size),
    nut: new Float64Array(size),
    rise: new Float64Array(size),
    nutByTechnician: sums.technicians.map(() => new Float64Array(size)),
    riseByTechnician: sums.technicians.map(() => new Float64Array(size)),
  };
  let row = 0;
  for (let block = 0; block < blocks; block++) {
    const [from, to] = [sums.blockStart[block]!, sums.blockStart[block + 1]!];
    const cells = Array.from({ length: to - from }, (_, at) => from + at);
    const root = cells.map((cell) =>
      Math.sqrt(1 / (1 / sums.cellCount[cell]! + (sums.cellResolution[cell]! / sigma) ** 2 / 12)),
    );
    const axis = cells.map((cell, at) => root[at]! * saddleLeverage(sums.cellFret[cell]!));
    axis[0]! += Math.hypot(...axis);
    const square = axis.reduce((sum, value) => sum + value * value, 0);
    /** Writes rows 2 to k of the reflection of `W^(1/2) x` into `target`. */
    const reflect = (value: (cell: number) => number, target: Float64Array): void => {
      const scaled = cells.map((cell, at) => root[at]! * value(cell));
      const along = (2 * scaled.reduce((sum, x, at) => sum + x * axis[at]!, 0)) / square;
      for (let at = 1; at < cells.length; at++) target[row + at - 1] = scaled[at]! - along * axis[at]!;
    };
    rows.block.fill(block, row, row + cells.length - 1);
    reflect((cell) => sums.cellMean[cell]!, rows.response);
    reflect(() => 1, rows.nut);
    reflect((cell) => riseShape(sums.cellFret[cell]!), rows.rise);
    for (const technician of new Set(cells.map((cell) => sums.cellTechnician[cell]!))) {
      const own = (cell: number): number => Number(sums.cellTechnician[cell] === technician);
      reflect(own, rows.nutByTechnician[technician]!);
      reflect((cell) => own(cell) * riseShape(sums.cellFret[cell]!), rows.riseByTechnician[technician]!);
    }
    row += cells.length - 1;
    for (const cell of cells) {
      const repeats = sums.cellCount[cell]! - 1;
      rows.block.fill(block, row, row + repeats);
      rows.response.fill(Math.sqrt(sums.cellSquares[cell]! / repeats), row, row + repeats);
      row += repeats;
    }
  }
  return rows;
}
