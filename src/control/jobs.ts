import { table, type ColumnTable } from 'arquero';
import { instantOf } from './instant.ts';

/** One stay of an instrument at the bench. */
export interface Job {
  /** The name under which its readings stand in {@link Jobs.readings}: no other job has it. */
  readonly key: string;
  readonly instrument: string;
  /** When it was read last, in milliseconds since 1970 UTC; null where the log does not say. */
  readonly at: number | null;
  /** Numbers of its passes, rising. */
  readonly passes: readonly number[];
  /** Notes beside readings of passes after its first, each once. */
  readonly laterNotes: readonly string[];
}

export interface Jobs {
  readonly jobs: readonly Job[];
  /** The readings by job: `instrument` holds the job's key. */
  readonly readings: ColumnTable;
  /** Readings of each job's first pass alone. */
  readonly received: ColumnTable;
}

const dayMs = 86_400_000;
/** An instrument that was not read for longer has been away (common practice, no source). */
const longestPauseDays = 30;

/**
 * Tells the stays of each instrument apart: a new one begins where its pass number falls from one time to a later one, or where it
 * was not read for more than 30 days. Readings without a date belong to the stay that has their pass, else to the first.
 *
 * @param readings Arquero table of readings as `readLogs` gives it
 */
export function jobsOf(readings: ColumnTable): Jobs {
  const column = <T>(name: string): ArrayLike<T> => readings.array(name) as ArrayLike<T>;
  const optional = (name: string): ArrayLike<string | null> | null =>
    readings.columnNames().includes(name) ? column<string | null>(name) : null;
  const [instruments, passes] = [column<string>('instrument'), column<number>('pass')];
  const [dates, notes] = [optional('measuredAt'), optional('note')];
  const known = new Map<string, number>();
  const atOf = (row: number): number | null => {
    const text = dates?.[row];
    if (text === null || text === undefined || text === '') return null;
    return known.get(text) ?? known.set(text, instantOf(text)).get(text)!;
  };
  const rowsOf = new Map<string, number[]>();
  for (let row = 0; row < instruments.length; row++) {
    const rows = rowsOf.get(instruments[row]!) ?? rowsOf.set(instruments[row]!, []).get(instruments[row]!)!;
    rows.push(row);
  }
  const keys = Array.from(instruments);
  const isReceived = new Uint8Array(keys.length);
  const jobs = [...rowsOf].flatMap(([instrument, rows]) =>
    staysOf(rows, atOf, passes).map((stay, number): Job => {
      // A name holds no line break, so no instrument is called like that.
      const key = `${instrument}\n${number + 1}`;
      const numbers = [...new Set(stay.map((row) => passes[row]!))].sort((a, b) => a - b);
      const times = stay.map(atOf).filter((at) => at !== null);
      for (const row of stay) {
        keys[row] = key;
        isReceived[row] = Number(passes[row] === numbers[0]);
      }
      const later = stay.filter((row) => passes[row] !== numbers[0]).map((row) => notes?.[row] ?? '');
      return {
        key,
        instrument,
        at: times.length > 0 ? times.reduce((latest, at) => Math.max(latest, at)) : null,
        passes: numbers,
        laterNotes: [...new Set(later)].filter((note) => note !== ''),
      };
    }),
  );
  const some = (keep: (row: number) => boolean): ColumnTable => {
    const rows = Array.from(keys.keys()).filter(keep);
    const names = ['model', 'string', 'fret', 'pass', 'cents', 'technician', 'resolutionCents'];
    const present = names.filter((name) => readings.columnNames().includes(name));
    const picked = present.map((name) => {
      const values = column<unknown>(name);
      return [name, rows.map((row) => values[row])] as const;
    });
    return table({ instrument: rows.map((row) => keys[row]!), ...Object.fromEntries(picked) });
  };
  return { jobs, readings: some(() => true), received: some((row) => isReceived[row] === 1) };
}

/** Rows of one instrument, stay by stay in order of time. */
function staysOf(
  rows: readonly number[],
  atOf: (row: number) => number | null,
  passes: ArrayLike<number>,
): readonly number[][] {
  const dated = rows.filter((row) => atOf(row) !== null).sort((a, b) => atOf(a)! - atOf(b)! || passes[a]! - passes[b]!);
  const stays: number[][] = [];
  let [lastAt, lastPass] = [-Infinity, Infinity];
  for (const row of dated) {
    const [at, pass] = [atOf(row)!, passes[row]!];
    const isNew = at - lastAt > longestPauseDays * dayMs || (at > lastAt && pass < lastPass);
    if (isNew) stays.push([]);
    stays.at(-1)!.push(row);
    [lastAt, lastPass] = [at, pass];
  }
  const undated = rows.filter((row) => atOf(row) === null);
  if (undated.length > 0 && stays.length === 0) stays.push([]);
  for (const row of undated)
    (stays.find((stay) => stay.some((other) => passes[other] === passes[row])) ?? stays[0]!).push(row);
  return stays;
}
