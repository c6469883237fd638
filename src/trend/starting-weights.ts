import type { BlockSums } from '../sources/block-sums.ts';
import { chiSquaredQuantile } from '../statistics/distributions.ts';
import { median, medianAbsoluteDeviation } from '../statistics/location-scale.ts';
import type { ContrastRows } from './contrast-rows.ts';
import { cellKey } from './covariate-effects.ts';
import { equalWeights, robustWeights, type Weights } from './robust-weights.ts';
import { finestScatter, leftOver, type Spread, type StringMoments, stringMoments } from './string-moments.ts';

/**
 * Weights to begin with, by medians, so that a few wild strings set neither centre nor scale of the first fit: the nut offset is
 * the median over strings read at many frets, a cell's rise the median over its instruments. Every weight is equal where no
 * string was read more than once, or where readings do not scatter.
 */
export function startingWeights(sums: BlockSums, rows: ContrastRows): Weights {
  const nuts = stringMoments(sums, rows, rows.response).flatMap((strings) => strings.flatMap(nutAlone));
  const nut = nuts.length > 0 ? median(nuts) : 0;
  const withoutNut = rows.response.map((response, row) => response - nut * rows.nut[row]!);
  const rises = new Map<number, number[]>();
  stringMoments(sums, rows, withoutNut).forEach((strings, instrument) => {
    for (const { string, rr, ry } of strings) {
      if (rr <= 1e-9) continue;
      const key = cellKey(sums.modelOfInstrument[instrument]!, string);
      const known = rises.get(key);
      if (known) known.push(ry / rr);
      else rises.set(key, [ry / rr]);
    }
  });
  const centres = new Map([...rises].map(([key, values]) => [key, median(values)]));
  const residual = withoutNut.map((response, row) => {
    const block = rows.block[row]!;
    const key = cellKey(sums.modelOfInstrument[sums.blockInstrument[block]!]!, sums.blockString[block]!);
    return response - (centres.get(key) ?? 0) * rows.rise[row]!;
  });
  const moments = stringMoments(sums, rows, residual);
  const spread = medianSpread(moments, nuts.length > 0 ? medianAbsoluteDeviation(nuts) : 0);
  return spread.reading > finestScatter ? robustWeights(sums, moments, spread) : equalWeights(sums);
}

/** The nut offset of a string read at three frets or more, by least squares beside its rise; nothing of any other. */
function nutAlone({ rr, rn, nn, ry, ny }: StringMoments): number[] {
  const alone = nn - rn ** 2 / rr;
  return rr > 1e-9 && alone > 1e-9 * nn ? [(ny - (rn * ry) / rr) / alone] : [];
}

/** A spread by medians: of squares left over within strings, of strings about their instrument, of instruments about zero. */
function medianSpread(moments: readonly (readonly StringMoments[])[], stringNut: number): Spread {
  const noise: number[] = [];
  const instruments: number[] = [];
  const strings: number[] = [];
  const halves = new Map<number, number>();
  for (const all of moments) {
    for (const one of all) {
      const { squares, rank } = leftOver(one);
      const df = one.rows - rank;
      if (df === 0) continue;
      const half = halves.get(df) ?? chiSquaredQuantile(0.5, df);
      halves.set(df, half);
      noise.push(squares / half);
    }
    const rises = all.filter(({ rr }) => rr > 1e-9).map(({ rr, ry }) => ry / rr);
    if (rises.length === 0) continue;
    const middle = median(rises);
    instruments.push(middle);
    strings.push(...rises.map((rise) => rise - middle));
  }
  return {
    reading: noise.length > 0 ? Math.sqrt(median(noise)) : 0,
    stringRise: medianAbsoluteDeviation(strings, 0),
    instrumentRise: medianAbsoluteDeviation(instruments, 0),
    stringNut,
  };
}
