import { riseShape } from '../acoustics/frets.ts';
import type { BlockSums } from '../sources/block-sums.ts';
import { projectSaddle } from '../trend/contrast-rows.ts';
import { type Fault, screenFaults } from '../trend/fault-screen.ts';
import { finestScatter, type Spread, stringMoments } from '../trend/string-moments.ts';
import type { Expectation } from './expectation.ts';
import type { StringEstimate } from './string-estimate.ts';

/**
 * Screens one instrument's latest readings for the patterns that `screenFaults` knows: what to check first when its rise does
 * not fit the model.
 *
 * @param sums one block a string, each with an expectation
 * @param estimates of the same strings
 */
export function screenInstrument(
  sums: BlockSums,
  expectations: ReadonlyMap<number, Expectation>,
  estimates: readonly StringEstimate[],
): Fault[] {
  const own = estimates.map(({ expectation }) => expectation);
  const rootMeanSquare = (of: (one: Expectation) => number): number =>
    Math.sqrt(own.reduce((sum, one) => sum + of(one) ** 2, 0) / own.length);
  const spread: Spread = {
    instrumentRise: rootMeanSquare((one) => one.instrumentSd),
    stringRise: rootMeanSquare((one) => one.stringSd),
    stringNut: rootMeanSquare((one) => one.nutSd),
    reading: Math.max(
      finestScatter,
      rootMeanSquare((one) => one.readingSd),
    ),
  };
  const rows = projectSaddle(sums, spread.reading);
  const of = (block: number): Expectation => expectations.get(sums.blockString[block]!)!;
  const residual = rows.response.map((response, row) => {
    const { nut, rise } = of(rows.block[row]!);
    return response - nut * rows.nut[row]! - rise * rows.rise[row]!;
  });
  const expected = new Float64Array(sums.cellFret.length);
  for (let block = 0; block < sums.blockString.length; block++) {
    const { nut, rise } = estimates.find(({ string }) => string === sums.blockString[block])!;
    for (let cell = sums.blockStart[block]!; cell < sums.blockStart[block + 1]!; cell++)
      expected[cell] = nut + rise * riseShape(sums.cellFret[cell]!);
  }
  return screenFaults(sums, stringMoments(sums, rows, residual), spread, expected);
}
