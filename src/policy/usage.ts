import { Buffer } from 'node:buffer';
import { csvText } from '../logs/csv-text.ts';
import { detectEncoding, linesToUtf8, utf16ToUtf8 } from '../logs/encoding.ts';
import { decimalMarkOf, parseNumber } from '../logs/number.ts';
import { csvRecords } from './csv-records.ts';
import { oneLine } from './plain-text.ts';

/** How often each string is played at each fret: counts by string, then by fret. Only their proportions matter. */
export type Usage = ReadonlyMap<number, ReadonlyMap<number, number>>;

/** No fretted instrument has more. */
export const highestFret = 36;

/** As many as models.csv allows. */
const mostStrings = 12;
/** A count above this is a slip, and sums of such counts would overflow. */
const mostCount = 1e12;

/**
 * Reads a usage profile: CSV with the columns `string, fret, count`, one row per string and fret. Commas, semicolons or tabs;
 * decimal points or commas. Rows of one string and fret add up.
 *
 * @param text the file's text, or its bytes in UTF-8, UTF-16 or Windows-1252
 * @param file name for messages
 * @throws {RangeError} naming file, line, column, what was found and what was expected: half a profile is none
 */
export function readUsage(text: string | Uint8Array, file: string): Usage {
  const expectedColumns = ['string', 'fret', 'count'];
  const [header, ...rows] = csvRecords(typeof text === 'string' ? text : textOf(text), file, expectedColumns);
  const names = header?.record.map((name) => name.toLowerCase()) ?? [];
  const columns = expectedColumns.map((name) => {
    const at = names.indexOf(name);
    if (at < 0)
      throw new RangeError(
        `${file}:1: found columns "${oneLine(names.join(', ')).slice(0, 60)}", expected string, fret, count`,
      );
    const alike = names.filter((one) => one === name).length;
    if (alike > 1) throw new RangeError(`${file}:1: found ${alike} columns "${name}", expected one`);
    return { name, at };
  });
  const counts = columns[2]!.at;
  const mark = decimalMarkOf(
    rows.map(({ record }) => record[counts] ?? ''),
    'either',
  );
  const usage = new Map<number, Map<number, number>>();
  for (const { record, info } of rows) {
    if (record.length > names.length)
      throw new RangeError(`${file}:${info.lines}: found ${record.length} cells, expected ${names.length}`);
    const [string, fret, count] = columns.map(({ name, at }) => {
      const found = record[at] ?? '';
      const value = parseNumber(found, name === 'count' ? mark : '.');
      const [fits, expected] =
        name === 'count'
          ? [value >= 0 && value <= mostCount, 'a count from 0 to 1e12']
          : name === 'fret'
            ? [
                Number.isInteger(value) && value >= 0 && value <= highestFret,
                `a whole fret number from 0 to ${highestFret}`,
              ]
            : [
                Number.isInteger(value) && value >= 1 && value <= mostStrings,
                `a whole string number from 1, the thinnest, to ${mostStrings}`,
              ];
      if (!fits)
        throw new RangeError(`${file}:${info.lines}, column "${name}": found "${found}", expected ${expected}`);
      return value;
    }) as [number, number, number];
    const frets = usage.get(string) ?? usage.set(string, new Map()).get(string)!;
    frets.set(fret, (frets.get(fret) ?? 0) + count);
  }
  requireFretted(usage, file);
  return usage;
}

/**
 * Sees to it that a usage has a note on the neck.
 *
 * @throws {RangeError} where all counts are 0 or on open strings
 */
export function requireFretted(usage: Usage, file: string): void {
  const fretted = [...usage.values()].some((frets) => [...frets].some(([fret, count]) => fret > 0 && count > 0));
  if (!fretted) throw new RangeError(`${file}: the counts of fretted notes sum to 0, expected at least one above 0`);
}

function textOf(bytes: Uint8Array): string {
  const buffer = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const { encoding, markBytes } = detectEncoding(buffer);
  const rest = buffer.subarray(markBytes);
  return (encoding === 'lines' ? linesToUtf8(rest) : utf16ToUtf8(rest, encoding)).toString('utf8');
}

/** The counts of several profiles added up. */
export function addUsages(usages: readonly Usage[]): Usage {
  const sum = new Map<number, Map<number, number>>();
  for (const usage of usages)
    for (const [string, counts] of usage) {
      const frets = sum.get(string) ?? sum.set(string, new Map()).get(string)!;
      for (const [fret, count] of counts) frets.set(fret, (frets.get(fret) ?? 0) + count);
    }
  return sum;
}

/** A profile as CSV that {@link readUsage} reads, by string and then by fret; counts to nine digits. */
export function usageCsv(usage: Usage): string {
  const inOrder = <T>(map: ReadonlyMap<number, T>): [number, T][] => [...map].sort(([a], [b]) => a - b);
  return csvText(
    ['string', 'fret', 'count'],
    inOrder(usage).flatMap(([string, frets]) =>
      inOrder(frets).map(([fret, count]) => [string, fret, Number(count.toPrecision(9))]),
    ),
  );
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
