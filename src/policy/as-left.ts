import { rise, sharedCents } from '../acoustics/rise.ts';
import { type BlockSums, meanAt } from '../sources/block-sums.ts';
import type { HouseStandard } from './standard.ts';

/** One string of one instrument as it came in, and as the standard would leave it. Errors in cents. */
export interface AsLeft {
  readonly instrument: string;
  readonly model: string;
  readonly string: number;
  readonly received12: number;
  readonly received17: number;
  readonly left12: number;
  readonly left17: number;
}

/**
 * What the standard would make of each string read at the 12th and the 17th on the first pass: its own rise, shared as the
 * standard says. Strings that the standard has no entry for, or that lack one of the two readings, are left out.
 */
export function asLeft(sums: BlockSums, standard: HouseStandard): AsLeft[] {
  const shares = new Map(standard.entries.map((entry) => [`${entry.model}\n${entry.string}`, entry.share]));
  const first = new Map<string, number>();
  for (let block = 0; block < sums.blockString.length; block++) {
    const key = `${sums.blockInstrument[block]}\n${sums.blockString[block]}`;
    if (!first.has(key)) first.set(key, block);
  }
  return [...first.values()].flatMap((block) => {
    const instrument = sums.blockInstrument[block]!;
    const model = sums.models[sums.modelOfInstrument[instrument]!]!;
    const string = sums.blockString[block]!;
    const share = shares.get(`${model}\n${string}`);
    const [received12, received17] = [meanAt(sums, block, 12), meanAt(sums, block, 17)];
    if (share === undefined || received12 === undefined || received17 === undefined) return [];
    const left = sharedCents(share, rise(received12, received17));
    return [
      {
        instrument: sums.instruments[instrument]!,
        model,
        string,
        received12,
        received17,
        left12: left.cents12,
        left17: left.cents17,
      },
    ];
  });
}
