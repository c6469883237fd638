import { signed } from '../acoustics/signed.ts';
import { fitted } from '../policy/plain-text.ts';
import type { Difference } from '../statistics/two-sample.ts';
import type { Adoption, AdoptionReport, Differences, FaultCount, GroupChange } from './adoption.ts';
import { dayText } from './instant.ts';
import { measures, type Measure } from './left-jobs.ts';

/** A measure as a person reads it, and its unit. */
export function measureWords(measure: Measure, audibleCents: number): { readonly name: string; readonly unit: string } {
  switch (measure) {
    case 'at12':
      return { name: 'error left at the 12th', unit: 'cents' };
    case 'at17':
      return { name: 'error left at the 17th', unit: 'cents' };
    case 'audible':
      return { name: `error beyond ${audibleCents} cents at 12th and 17th`, unit: 'cents' };
    case 'neck':
      return { name: `error beyond ${audibleCents} cents up the neck`, unit: 'cents' };
    case 'off':
      return { name: 'distance from the standard', unit: 'cents' };
    case 'moves':
      return { name: 'saddle moves a job', unit: 'moves' };
  }
}

/** Title of the section. */
export function adoptionTitle({ adoptedAt }: AdoptionReport): string {
  return `Before and after the standard was taken up on ${dayText(adoptedAt)}`;
}

/** What can be told of the change, in plain sentences; or why nothing can. */
export function adoptionSentences(report: AdoptionReport): string[] {
  if ('reason' in report) return [`Nothing can be told: ${report.reason}.`];
  const { before, after, differences, paired, standardLeaves } = report;
  return [
    `${counted(before.length, 'job')} left before and ${after.length} after, of which those count whose model is on both sides.`,
    ...changeSentences(differences, report.audibleCents),
    ...(Number.isNaN(standardLeaves.at12)
      ? []
      : [
          `A bench exactly on the standard leaves ${standardLeaves.at12.toFixed(2)} cents at the 12th and ${standardLeaves.at17.toFixed(2)} at the 17th of a usual instrument: it shares the rise out.`,
        ]),
    ...(paired
      ? pairedSentences(report, paired)
      : ['No two instruments were left both before and after: none can be held against itself.']),
    ...faultSentences(report),
  ];
}

function changeSentences(differences: Differences, audibleCents: number): string[] {
  const told = (test: (found: Difference) => boolean): string[] =>
    measures.flatMap((measure) => {
      const found = differences[measure];
      if (!found || !test(found)) return [];
      return [measureWords(measure, audibleCents).name];
    });
  const [less, more, open] = [
    told(({ high }) => high < 0),
    told(({ low }) => low > 0),
    told(({ low, high }) => low <= 0 && high >= 0),
  ];
  const silent = measures.filter((measure) => differences[measure] === null);
  return [
    ...(less.length > 0 ? [`Less than before: ${less.join('; ')}.`] : []),
    ...(more.length > 0 ? [`More than before: ${more.join('; ')}.`] : []),
    ...(open.length > 0 ? [`No difference can be told, either way: ${open.join('; ')}.`] : []),
    ...(silent.length > 0
      ? [
          `Too few jobs, or no scatter, to give an interval: ${silent.map((one) => measureWords(one, audibleCents).name).join('; ')}.`,
        ]
      : []),
  ];
}

function amount({ estimate, low, high }: Difference): string {
  return `${plain(estimate)} (95 % ${plain(low)} to ${plain(high)})`;
}

function pairedSentences(
  { audibleCents }: Adoption,
  { instruments, differences }: NonNullable<Adoption['paired']>,
): string[] {
  const found = measures.flatMap((measure) => {
    const difference = differences[measure];
    return difference ? [{ difference, name: measureWords(measure, audibleCents).name }] : [];
  });
  const told = found.filter(({ difference: { low, high } }) => low > 0 || high < 0);
  const start = `${instruments} instruments were left both before and after.`;
  if (found.length === 0) return [`${start} Held against themselves they are too few to give an interval.`];
  if (told.length === 0) return [`${start} Each held against itself, no difference can be told.`];
  return [
    `${start} Each held against itself: ${told.map(({ difference, name }) => `${name} ${amount(difference)}, ${difference.before} pairs`).join('; ')}${told.length < found.length ? '; no other difference can be told' : ''}.`,
  ];
}

function faultSentences({ faults }: Adoption): string[] {
  if (faults.before === null) return [`Suspected faults: none can be raised. ${faults.reason}.`];
  const line = ({ jobs, faults: found }: FaultCount): string => {
    const count = (outcome: string): number => found.filter((one) => one.outcome === outcome).length;
    const noted = found.filter(({ job }) => job.laterNotes.length > 0).length;
    return `${found.length} in ${counted(jobs, 'job')} as received (${count('stayed')} still there when read last, ${count('went')} gone, ${count('unknown')} not known; ${noted} with a later note)`;
  };
  return [
    `Suspected faults: before, ${line(faults.before)}; after, ${line(faults.after)}.`,
    'Still there means no slip of reading; gone means put right or misread at first, and the log cannot say which. It does not hold what a technician found unless a note says so.',
  ];
}

const plain = (value: number): string => signed(value, 2, '-');

function counted(count: number, what: string): string {
  return `${count} ${what}${count === 1 ? '' : 's'}`;
}

/** A row of {@link adoptionTable}: a measure before and after, with the interval of the difference. */
export interface AdoptionRow {
  readonly measure: string;
  readonly before: string;
  readonly after: string;
  readonly change: string;
  readonly interval: string;
}

/** The measures in figures; those without an interval are left out. */
export function adoptionRows({ differences, audibleCents }: Adoption): AdoptionRow[] {
  return measures.flatMap((measure) => {
    const found = differences[measure];
    if (!found) return [];
    return [
      {
        measure: measureWords(measure, audibleCents).name,
        before: found.meanBefore.toFixed(2),
        after: found.meanAfter.toFixed(2),
        change: plain(found.estimate),
        interval: `${plain(found.low)} to ${plain(found.high)}`,
      },
    ];
  });
}

/** What of the groups' measures fits a line: change, give or take half the interval. */
export const groupMeasures = ['at12', 'at17', 'off', 'moves'] as const satisfies readonly Measure[];

/** Their heads in a table. */
export const groupHeads = ['at the 12th', 'at the 17th', 'off standard', 'moves'] as const;

/** A group's change with half its interval, or why there is none. */
export function groupCell({ differences }: GroupChange, measure: Measure): string {
  const found = differences[measure];
  return found ? `${plain(found.estimate)} ±${((found.high - found.low) / 2).toFixed(2)}` : '-';
}

/** Both tables as text, at most 80 columns wide. */
export function adoptionTables(report: Adoption): string[] {
  const measured = adoptionRows(report).map(
    ({ measure, before, after, change, interval }) =>
      fitted(measure, 41) + before.padStart(7) + after.padStart(7) + change.padStart(8) + interval.padStart(17),
  );
  const groups = report.groups.map((group) =>
    [
      fitted(group.name, 18),
      String(group.before).padStart(5),
      String(group.after).padStart(5),
      ...groupMeasures.map((measure) => groupCell(group, measure).padStart(13)),
    ].join(''),
  );
  return [
    ...(measured.length === 0
      ? []
      : [`${' '.repeat(41)} before  after  change             95 %`, '-'.repeat(80), ...measured, '']),
    ...(groups.length === 0
      ? []
      : [
          [
            fitted('change ± (95 %)', 18),
            ...['was', 'now'].map((name) => name.padStart(5)),
            ...groupHeads.map((name) => name.padStart(13)),
          ].join(''),
          '-'.repeat(80),
          ...groups,
          '',
        ]),
  ];
}
