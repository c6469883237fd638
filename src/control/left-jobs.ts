import { mean } from '../statistics/location-scale.ts';
import { rise, sharedCents } from '../acoustics/rise.ts';
import type { HouseStandard } from '../policy/standard.ts';
import { type Usage, usageWeights } from '../policy/usage.ts';
import { meanAt, sumReadings } from '../sources/block-sums.ts';
import { readerOf } from './left-instruments.ts';
import type { Job, Jobs } from './jobs.ts';

/** What is measured of a job as it was left. All but `moves` are means over its strings, in cents. */
export const measures = ['at12', 'at17', 'audible', 'neck', 'off', 'moves'] as const;
/**
 * - `at12`, `at17`: size of the error left at the fret;
 * - `audible`: what of it exceeds the audible threshold, the 12th and the 17th counting one half each;
 * - `neck`: the same over all frets read, weighed by how often they are played, of strings read at five frets or more;
 * - `off`: size of the departure from the standard at the 12th;
 * - `moves`: passes after the first.
 */
export type Measure = (typeof measures)[number];

/** A job as it was left, with each measure that its readings tell. */
export interface LeftJob {
  readonly job: Job;
  readonly model: string;
  /** Who read it last; '' where the log does not say. */
  readonly technician: string;
  readonly values: Readonly<Partial<Record<Measure, number>>>;
}

/** A string read at fewer frets tells of the 12th and the 17th, not of the neck. */
const fewestFrets = 5;

/**
 * Every job with a pass after its first, as left: the last pass of each string that was read at the 12th and the 17th.
 *
 * @param audibleCents errors up to this many cents count as nothing
 */
export function leftJobs(
  { jobs, readings }: Jobs,
  standard: HouseStandard,
  { usage, audibleCents }: { readonly usage: Usage; readonly audibleCents: number },
): LeftJob[] {
  const sums = sumReadings(readings);
  const entries = new Map(standard.entries.map((entry) => [`${entry.model}\n${entry.string}`, entry]));
  const blocksOf = new Map<string, number[]>();
  sums.blockInstrument.forEach((at, block) => {
    const key = sums.instruments[at]!;
    (blocksOf.get(key) ?? blocksOf.set(key, []).get(key)!).push(block);
  });
  const excess = (cents: number): number => Math.max(0, Math.abs(cents) - audibleCents);
  return jobs.flatMap((job): LeftJob[] => {
    if (job.passes.length < 2) return [];
    const blocks = blocksOf.get(job.key)!;
    const model = sums.models[sums.modelOfInstrument[sums.blockInstrument[blocks[0]!]!]!]!;
    // Blocks stand sorted by string, then pass: the last of a string is how it was left.
    const last = [...new Map(blocks.map((block) => [sums.blockString[block]!, block])).values()];
    const strings = last.flatMap((block) => {
      const [cents12, cents17] = [meanAt(sums, block, 12), meanAt(sums, block, 17)];
      return cents12 === undefined || cents17 === undefined ? [] : [{ block, cents12, cents17 }];
    });
    if (strings.length === 0) return [];
    const neck = strings.flatMap(({ block }) => {
      const string = sums.blockString[block]!;
      const frets = [...new Set(sums.cellFret.subarray(sums.blockStart[block], sums.blockStart[block + 1]))];
      if (frets.length < fewestFrets) return [];
      const known = standard.models.find((one) => one.model === model)?.frets ?? 0;
      const played = usageWeights(usage, string, Math.max(known, ...frets));
      const total = frets.reduce((sum, fret) => sum + played[fret - 1]!, 0);
      return total > 0
        ? [frets.reduce((sum, fret) => sum + (played[fret - 1]! / total) * excess(meanAt(sums, block, fret)!), 0)]
        : [];
    });
    const off = strings.flatMap(({ block, cents12, cents17 }) => {
      const entry = entries.get(`${model}\n${sums.blockString[block]!}`);
      return entry ? [Math.abs(cents12 - sharedCents(entry.share, rise(cents12, cents17)).cents12)] : [];
    });
    return [
      {
        job,
        model,
        technician: readerOf(sums, last),
        values: {
          at12: mean(strings.map(({ cents12 }) => Math.abs(cents12))),
          at17: mean(strings.map(({ cents17 }) => Math.abs(cents17))),
          audible: mean(strings.map(({ cents12, cents17 }) => (excess(cents12) + excess(cents17)) / 2)),
          ...(neck.length > 0 ? { neck: mean(neck) } : {}),
          ...(off.length > 0 ? { off: mean(off) } : {}),
          moves: job.passes.length - 1,
        },
      },
    ];
  });
}
