import type { ColumnTable } from 'arquero';
import type { HouseStandard } from '../policy/standard.ts';
import type { Usage } from '../policy/usage.ts';
import { pairedDifference, stratifiedDifference, type Difference } from '../statistics/two-sample.ts';
import { followFaults, type FollowedFault } from './followed-faults.ts';
import { dayText } from './instant.ts';
import { jobsOf, type Job } from './jobs.ts';
import { leftJobs, measures, type LeftJob, type Measure } from './left-jobs.ts';

/** Each measure after less before; null where no interval can be given. */
export type Differences = Readonly<Record<Measure, Difference | null>>;

/** The jobs of one technician or model, before and after. */
export interface GroupChange {
  readonly kind: 'technician' | 'model';
  readonly name: string;
  readonly before: number;
  readonly after: number;
  readonly differences: Differences;
}

/** Suspicions raised on jobs as received, on one side of the day. */
export interface FaultCount {
  /** Jobs that were screened. */
  readonly jobs: number;
  readonly faults: readonly FollowedFault[];
}

/** What changed with a standard. */
export interface Adoption {
  /** The day from which on jobs count as after, in milliseconds since 1970 UTC. */
  readonly adoptedAt: number;
  /** Errors up to this many cents count as nothing where the audible part is meant. */
  readonly audibleCents: number;
  /** Jobs left before, and after. */
  readonly before: readonly LeftJob[];
  readonly after: readonly LeftJob[];
  /** Mean size of the standard's own targets over the jobs after, in cents: what a bench exactly on it leaves at the least. */
  readonly standardLeaves: { readonly at12: number; readonly at17: number };
  /** Model by model, all technicians together. */
  readonly differences: Differences;
  /** Instruments left both before and after, each held against itself; null where there are fewer than two. */
  readonly paired: { readonly instruments: number; readonly differences: Differences } | null;
  /** Technicians, then models, by name; those with jobs on both sides. */
  readonly groups: readonly GroupChange[];
  readonly faults:
    { readonly before: FaultCount; readonly after: FaultCount } | { readonly before: null; readonly reason: string };
  /** Sentences on what was left out and what may mislead. */
  readonly notes: readonly string[];
}

/** Before and after, or why there is nothing to tell. */
export type AdoptionReport = Adoption | { readonly adoptedAt: number; readonly reason: string };

export interface AdoptionOptions {
  /** How often each string is played where. */
  readonly usage: Usage;
  /** The day the standard was taken up, in milliseconds since 1970 UTC; default the day the standard was drawn up. */
  readonly adoptedAt?: number | undefined;
}

/**
 * Holds the jobs left before a standard was taken up against those left after it.
 *
 * The instruments are not the same ones: differences are two-sample ones with models as blocks, each side with a variance of its own
 * ({@link stratifiedDifference}), and describe these technicians, not technicians at large. Instruments that were left on both sides
 * are also held against themselves ({@link pairedDifference}).
 *
 * @param readings Arquero table of readings as `readLogs` gives it
 */
export function adoption(readings: ColumnTable, standard: HouseStandard, options: AdoptionOptions): AdoptionReport {
  const { usage, adoptedAt = Date.parse(standard.created.slice(0, 10)) } = options;
  const { loss } = standard.options;
  const audibleCents = loss.kind === 'audible' ? loss.thresholdCents : 3;
  const jobs = jobsOf(readings);
  const left = leftJobs(jobs, standard, { usage, audibleCents });
  const dated = left.filter(({ job }) => job.at !== null);
  const [before, after] = [
    dated.filter((one) => isBefore(one.job, adoptedAt)),
    dated.filter((one) => isAfter(one.job, adoptedAt)),
  ];
  if (before.length === 0 || after.length === 0) return { adoptedAt, reason: whyNothing(left, dated, adoptedAt) };
  const pairs = pairsOf(before, after);
  const followed = followFaults(jobs);
  const side = (isOn: (job: Job, at: number) => boolean): FaultCount => ({
    jobs: jobs.jobs.filter((job) => isOn(job, adoptedAt)).length,
    faults: (followed.faults ?? []).filter(({ job }) => isOn(job, adoptedAt)),
  });
  return {
    adoptedAt,
    audibleCents,
    before,
    after,
    standardLeaves: { at12: targetsOf(after, standard, 'target12'), at17: targetsOf(after, standard, 'target17') },
    differences: differencesOf(before, after),
    paired:
      pairs.length < 2
        ? null
        : {
            instruments: pairs.length,
            differences: each((measure) =>
              pairedDifference(
                pairs.flatMap(([one, other]): [number, number][] => {
                  const [was, is] = [one.values[measure], other.values[measure]];
                  return was === undefined || is === undefined ? [] : [[was, is]];
                }),
              ),
            ),
          },
    groups: [...groupsOf(before, after, 'technician'), ...groupsOf(before, after, 'model')],
    faults:
      followed.faults === null
        ? { before: null, reason: followed.reason }
        : { before: side(isBefore), after: side(isAfter) },
    notes: notesOf(left, dated, before, after),
  };
}

function isBefore({ at }: Job, adoptedAt: number): boolean {
  return at !== null && at < adoptedAt;
}

function isAfter({ at }: Job, adoptedAt: number): boolean {
  return at !== null && at >= adoptedAt;
}

/** Mean over jobs of the mean size of a target over their models' strings; NaN where the standard knows none of the models. */
function targetsOf(jobs: readonly LeftJob[], { entries }: HouseStandard, target: 'target12' | 'target17'): number {
  const sizes = jobs.flatMap(({ model }) => {
    const own = entries.filter((entry) => entry.model === model).map((entry) => Math.abs(entry[target]));
    return own.length === 0 ? [] : [own.reduce((sum, size) => sum + size, 0) / own.length];
  });
  return sizes.reduce((sum, size) => sum + size, 0) / sizes.length;
}

function each(of: (measure: Measure) => Difference | null): Differences {
  return Object.fromEntries(measures.map((measure) => [measure, of(measure)])) as Record<Measure, Difference | null>;
}

/** Two-sample differences with models as blocks. */
function differencesOf(before: readonly LeftJob[], after: readonly LeftJob[]): Differences {
  const models = [...new Set([...before, ...after].map(({ model }) => model))];
  const values = (jobs: readonly LeftJob[], model: string, measure: Measure): number[] =>
    jobs.flatMap((one) => (one.model === model && one.values[measure] !== undefined ? [one.values[measure]] : []));
  return each((measure) =>
    stratifiedDifference(
      models.map((model) => ({ before: values(before, model, measure), after: values(after, model, measure) })),
    ),
  );
}

/** The last job before and the last after, of each instrument that has both. */
function pairsOf(before: readonly LeftJob[], after: readonly LeftJob[]): [LeftJob, LeftJob][] {
  const lastOf = (jobs: readonly LeftJob[]): Map<string, LeftJob> =>
    new Map([...jobs].sort((a, b) => a.job.at! - b.job.at!).map((one) => [one.job.instrument, one]));
  const later = lastOf(after);
  return [...lastOf(before)].flatMap(([instrument, one]): [LeftJob, LeftJob][] => {
    const other = later.get(instrument);
    return other ? [[one, other]] : [];
  });
}

function groupsOf(before: readonly LeftJob[], after: readonly LeftJob[], kind: GroupChange['kind']): GroupChange[] {
  const names = [...new Set(before.map((one) => one[kind]))]
    .filter((name) => name !== '')
    .sort((a, b) => a.localeCompare(b, 'en'));
  return names.flatMap((name): GroupChange[] => {
    const [was, is] = [before, after].map((jobs) => jobs.filter((one) => one[kind] === name)) as [LeftJob[], LeftJob[]];
    if (is.length === 0) return [];
    return [{ kind, name, before: was.length, after: is.length, differences: differencesOf(was, is) }];
  });
}

function whyNothing(left: readonly LeftJob[], dated: readonly LeftJob[], adoptedAt: number): string {
  if (left.length === 0)
    return 'no instrument has a pass after its first with the 12th and the 17th: how any was left is not in the log';
  if (dated.length === 0) return 'no instrument that was left has a date (measured_at)';
  const times = dated.map(({ job }) => job.at!);
  const [first, last] = [times.reduce((a, b) => Math.min(a, b)), times.reduce((a, b) => Math.max(a, b))];
  return first >= adoptedAt
    ? `no instrument was left before ${dayText(adoptedAt)}; the first was on ${dayText(first)}`
    : `no instrument was left on ${dayText(adoptedAt)} or later; the last was on ${dayText(last)}`;
}

/** A technician whose part of the jobs changed by more can make a difference by that alone. */
const muchMore = 0.2;

function notesOf(
  left: readonly LeftJob[],
  dated: readonly LeftJob[],
  before: readonly LeftJob[],
  after: readonly LeftJob[],
): string[] {
  const notes = [
    'Before and after hold different instruments, and other things may have changed with the standard: the figures say what changed, not why. The noise of reading is in every error left, before and after alike.',
    'Models are the blocks: each is held against itself. Jobs are taken as independent of each other. Every interval stands alone: of twenty, one misses by chance. What of an error is beyond the threshold is mostly 0 and lopsided: there, with few jobs, two of twenty miss.',
  ];
  const modelsOf = (jobs: readonly LeftJob[]): Set<string> => new Set(jobs.map(({ model }) => model));
  const [was, is] = [modelsOf(before), modelsOf(after)];
  const alone = [...new Set([...was, ...is])].filter((model) => !was.has(model) || !is.has(model));
  if (alone.length > 0) notes.push(`On one side only, and left out: ${alone.join(', ')}.`);
  const undated = left.length - dated.length;
  if (undated > 0) notes.push(`${undated} ${undated === 1 ? 'job' : 'jobs'} without a date (measured_at) left out.`);
  const technicians = [...new Set(dated.map(({ technician }) => technician))].filter((name) => name !== '');
  for (const name of technicians) {
    const part = (jobs: readonly LeftJob[]): number =>
      jobs.filter(({ technician }) => technician === name).length / jobs.length;
    if (Math.abs(part(after) - part(before)) > muchMore)
      notes.push(
        `${name} did ${Math.round(100 * part(before))} % of the jobs before and ${Math.round(100 * part(after))} % after: part of a difference may be who did them. See the technicians one by one.`,
      );
  }
  return notes;
}
