import { CsvError, parse } from 'csv-parse/sync';

/** How often each string is played at each fret: counts by string, then by fret. Only their proportions matter. */
export type Usage = ReadonlyMap<number, ReadonlyMap<number, number>>;

/**
 * Reads a usage profile: CSV with the columns `string, fret, count`, one row per string and fret.
 *
 * @param file name for messages
 * @throws {RangeError} naming file, line, column, what was found and what was expected: half a profile is none
 */
export function readUsage(text: string, file: string): Usage {
  const records = recordsOf(text, file);
  const header = records[0]?.record.map((name) => name.toLowerCase()) ?? [];
  const columns = ['string', 'fret', 'count'].map((name) => {
    const at = header.indexOf(name);
    if (at < 0) throw new RangeError(`${file}:1: found columns "${header.join(', ')}", expected string, fret, count`);
    return { name, at };
  });
  const usage = new Map<number, Map<number, number>>();
  for (const { record, info } of records.slice(1)) {
    const [string, fret, count] = columns.map(({ name, at }) => {
      const found = record[at] ?? '';
      const value = found === '' ? NaN : Number(found);
      const [fits, expected] =
        name === 'count'
          ? [value >= 0 && value <= mostCount, 'a count from 0 to 1e12']
          : name === 'fret'
            ? [Number.isInteger(value) && value >= 0 && value <= 36, 'a whole fret number from 0 to 36']
            : [Number.isInteger(value) && value >= 1, 'a whole string number from 1, the thinnest'];
      if (!fits)
        throw new RangeError(`${file}:${info.lines}, column "${name}": found "${found}", expected ${expected}`);
      return value;
    }) as [number, number, number];
    const frets = usage.get(string) ?? usage.set(string, new Map()).get(string)!;
    frets.set(fret, (frets.get(fret) ?? 0) + count);
  }
  const total = [...usage.values()]
    .flatMap((frets) => [...frets])
    .reduce((sum, [fret, count]) => sum + (fret > 0 ? count : 0), 0);
  if (!(total > 0))
    throw new RangeError(`${file}: the counts of fretted notes sum to 0, expected at least one above 0`);
  return usage;
}

/** A count above this is a slip, and sums of such counts would overflow. */
const mostCount = 1e12;

function recordsOf(text: string, file: string): { record: string[]; info: { lines: number } }[] {
  try {
    return parse(text, {
      bom: true,
      delimiter: [',', ';', '\t'],
      trim: true,
      skip_empty_lines: true,
      relax_column_count: true,
      info: true,
    }) as unknown as { record: string[]; info: { lines: number } }[];
  } catch (error) {
    if (!(error instanceof CsvError)) throw error;
    throw new RangeError(`${file}: not a CSV file (${error.message}); expected the columns string, fret, count`, {
      cause: error,
    });
  }
}

/**
 * How often a string of an instrument is played at frets 1, 2, ... `frets`: weights that sum to 1. Open strings and frets
 * that the instrument does not have are left out; a string that the profile does not tell of gets the mean of those it does.
 */
export function usageWeights(usage: Usage, string: number, frets: number): Float64Array {
  const weights = new Float64Array(frets);
  const add = (counts: ReadonlyMap<number, number>): void => {
    for (const [fret, count] of counts) if (fret >= 1 && fret <= frets) weights[fret - 1]! += count;
  };
  add(usage.get(string) ?? new Map());
  if (!weights.some((weight) => weight > 0)) for (const counts of usage.values()) add(counts);
  const sum = weights.reduce((total, weight) => total + weight, 0);
  if (!(sum > 0))
    throw new RangeError(
      `Cannot weigh frets 1 to ${frets}: the usage profile has no note played there; ` +
        'expected counts at some of these frets, or a model with more frets in models.csv',
    );
  return weights.map((weight) => weight / sum);
}
