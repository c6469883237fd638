import type { BlockSums } from '../sources/block-sums.ts';
import { studentWeights } from '../statistics/student-weights.ts';
import { departure } from './departures.ts';
import type { Spread, StringMoments } from './string-moments.ts';
import type { RootWeights } from './trend-model.ts';

/** Readings that count for less because they fit their model badly; none is dropped. */
export interface DownWeighted {
  readonly instrument: string;
  /** null: the instrument as a whole. */
  readonly string: number | null;
  readonly weight: number;
}

export interface Weights {
  readonly root: RootWeights;
  /** By how much the variance of an estimate so weighted exceeds what its weights suggest, on clean data. */
  readonly varianceFactor: number;
  /** Instruments and strings with a weight under a half, lightest first. */
  readonly listed: readonly DownWeighted[];
}

const student = studentWeights(4);

/** Every instrument and string counts in full. */
export function equalWeights(sums: BlockSums): Weights {
  return {
    root: {
      instrument: new Float64Array(sums.instruments.length).fill(1),
      block: new Float64Array(sums.blockString.length).fill(1),
    },
    varianceFactor: 1,
    listed: [],
  };
}

/**
 * Student-t weights for every instrument (by its shared rise) and every string of it (by all its rows, the shared rise
 * removed).
 */
export function robustWeights(
  sums: BlockSums,
  moments: readonly (readonly StringMoments[])[],
  spread: Spread,
): Weights {
  const instrument = new Float64Array(sums.instruments.length).fill(1);
  const ofString = sums.instruments.map(() => new Map<number, number>());
  const listed: DownWeighted[] = [];
  const list = (at: number, string: number | null, weight: number): void => {
    if (weight < 0.5) listed.push({ instrument: sums.instruments[at]!, string, weight });
  };
  let [factors, parts] = [0, 0];
  const shared = spread.instrumentRise ** 2;
  moments.forEach((strings, at) => {
    const found = departure(strings, spread);
    const weight = student.weight(found.z ** 2, 1);
    if (shared > 0 && strings.length > 1) {
      instrument[at] = Math.sqrt(weight);
      list(at, null, weight);
      factors += shared * student.varianceFactor(1);
      parts += shared;
    }
    for (const { string, rows, distance } of found.strings) {
      const own = student.weight(distance, rows);
      ofString[at]!.set(string, Math.sqrt(own));
      list(at, string, own);
      // A string's rows tell the rise with about the variance c^2 plus that of one contrast.
      const variance = (spread.stringRise ** 2 + spread.reading ** 2) / strings.length;
      factors += variance * student.varianceFactor(rows);
      parts += variance;
    }
  });
  return {
    root: {
      instrument,
      block: Float64Array.from(
        sums.blockString,
        (string, block) => ofString[sums.blockInstrument[block]!]!.get(string) ?? 1,
      ),
    },
    varianceFactor: factors / parts,
    listed: listed.sort((a, b) => a.weight - b.weight),
  };
}

/** Largest relative change between two sets of weights. */
export function weightChange(before: Weights, after: Weights): number {
  let most = 0;
  for (const level of ['instrument', 'block'] as const)
    for (let at = 0; at < after.root[level].length; at++)
      most = Math.max(most, Math.abs(after.root[level][at]! / before.root[level][at]! - 1));
  return most;
}
