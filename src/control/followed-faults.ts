import { kappa } from '../acoustics/frets.ts';
import { rise } from '../acoustics/rise.ts';
import { type BlockSums, meanAt, sumReadings } from '../sources/block-sums.ts';
import { normalQuantile } from '../statistics/distributions.ts';
import type { Fault } from '../trend/fault-screen.ts';
import { fitTrend } from '../trend/fit-trend.ts';
import type { Job, Jobs } from './jobs.ts';

/**
 * What became of a suspicion: `stayed` through later readings, so that it was no slip of reading; `went` away, put right or
 * misread the first time; `unknown` where later readings cannot tell or there are none.
 */
export type Outcome = 'stayed' | 'went' | 'unknown';

/** A suspicion about a job as it came in, and what the log shows of it later. */
export interface FollowedFault {
  readonly job: Job;
  readonly fault: Fault;
  readonly outcome: Outcome;
  /** Why nothing can be told; '' where something can. */
  readonly reason: string;
}

/** Suspicions followed up, or why none could be raised. */
export type FollowedFaults =
  { readonly faults: readonly FollowedFault[] } | { readonly faults: null; readonly reason: string };

/**
 * Screens all jobs as received for faults (`fitTrend` of each job's first pass), and looks at each suspicion again on the job's
 * last pass. A saddle move changes no rise, so a rise that was out and no longer is has been put right or was misread.
 *
 * The part of the departure that is gone has a standard error of `sd sqrt(1/n12 + kappa^2/n17)`, of both passes, over its size. It
 * went where the part is beyond one half and its 95 % interval leaves out 0; it stayed where the part is under one half and the
 * interval leaves out 1.
 */
export function followFaults({ jobs, readings, received }: Jobs): FollowedFaults {
  let trend;
  try {
    trend = fitTrend(sumReadings(received));
  } catch (error) {
    // Too few instruments to screen is an answer, with the fit's own words.
    if (error instanceof RangeError) return { faults: null, reason: error.message };
    throw error;
  }
  const sums = sumReadings(readings);
  const byKey = new Map(jobs.map((job) => [job.key, job]));
  const blocksOf = new Map<string, number[]>(trend.faults.map(({ instrument }) => [instrument, []]));
  sums.blockInstrument.forEach((at, block) => blocksOf.get(sums.instruments[at]!)?.push(block));
  return {
    faults: trend.faults.map((fault): FollowedFault => {
      const job = byKey.get(fault.instrument)!;
      const unknown = (reason: string): FollowedFault => ({ job, fault, outcome: 'unknown', reason });
      if (fault.kind === 'one-fret' || fault.kind === 'poor-low-strings')
        return unknown('this kind is not followed from pass to pass');
      if (job.passes.length < 2) return unknown('it was not read again');
      const looks = fault.strings.flatMap((string) => changeOf(sums, blocksOf.get(job.key)!, string));
      if (looks.length === 0) return unknown('its strings were not read again at the 12th and the 17th');
      const sd = trend.spread.reading * Math.sqrt(looks.reduce((sum, { share }) => sum + share, 0) / looks.length ** 2);
      const part = -looks.reduce((sum, { change }) => sum + change, 0) / looks.length / fault.cents;
      const reach = (normalQuantile(0.975) * sd) / Math.abs(fault.cents);
      if (part > 0.5 && part - reach > 0) return { job, fault, outcome: 'went', reason: '' };
      if (part < 0.5 && part + reach < 1) return { job, fault, outcome: 'stayed', reason: '' };
      return unknown('reading scatters too much to tell');
    }),
  };
}

/** By how much a string's rise changed from its first pass with the 12th and the 17th to its last, and its variance in readings'. */
function changeOf(
  sums: BlockSums,
  blocks: readonly number[],
  string: number,
): { readonly change: number; readonly share: number }[] {
  const looks = blocks.flatMap((block) => {
    if (sums.blockString[block] !== string) return [];
    const [cents12, cents17] = [meanAt(sums, block, 12), meanAt(sums, block, 17)];
    if (cents12 === undefined || cents17 === undefined) return [];
    return [
      { rise: rise(cents12, cents17), share: 1 / countAt(sums, block, 12) + kappa ** 2 / countAt(sums, block, 17) },
    ];
  });
  if (looks.length < 2) return [];
  const [first, last] = [looks[0]!, looks.at(-1)!];
  return [{ change: last.rise - first.rise, share: first.share + last.share }];
}

function countAt(sums: BlockSums, block: number, fret: number): number {
  let count = 0;
  for (let cell = sums.blockStart[block]!; cell < sums.blockStart[block + 1]!; cell++)
    if (sums.cellFret[cell] === fret) count += sums.cellCount[cell]!;
  return count;
}
