import { Buffer } from 'node:buffer';
import { parse } from 'csv-parse/sync';
import type { RejectRule } from './reject.ts';
import { scanRecord, type Framing, type Scan } from './scan.ts';

/** One line, or the first line of a record, that no record can be made of. */
export interface Refused {
  readonly line: number;
  readonly rule: Extract<RejectRule, 'field-count' | 'unclosed-quote' | 'not-text'>;
  readonly found: string;
  readonly text: string;
  /** 0-based field at fault; -1 when it is the line as a whole. */
  readonly field: number;
}

/** Whole records in a row, ready for csv-parse. */
export interface Frames {
  readonly records: Buffer;
  /** Line breaks that end the records, in the form csv-parse takes. */
  readonly recordDelimiter: string[];
  /** Physical line of each record. */
  readonly lines: readonly number[];
  /** Raw text of a record, by its place in `lines`. */
  readonly text: (index: number) => string;
  readonly refused: readonly Refused[];
}

/**
 * A record of several lines with more bytes than this is taken for a quote never closed. A spreadsheet's cell holds at
 * most 32 767 characters, of up to three bytes each.
 */
const longestRecord = 1 << 17;

/**
 * Cuts a log into records before csv-parse sees it, so that one bad line cannot take good lines with it: a quote
 * never closed costs its own line, and reading goes on with the next.
 *
 * A later quote may close the open one by accident. That is taken to have happened when text follows the closing
 * quote, when the field count is wrong and a swallowed line looks like a row, or when the closing quote stands
 * where a field starts and its line looks like a row by itself.
 *
 * @param fields     number of fields a record must have
 * @param looksLikeRow tells whether one line, by itself, could be a row
 * @param firstLine  physical line the first byte stands on
 * @returns a function that takes whole lines of UTF-8, in order, `last` with the final ones
 */
export function framer(
  framing: Framing,
  { fields, looksLikeRow, firstLine }: { fields: number; looksLikeRow: (line: string) => boolean; firstLine: number },
): (lines: Buffer, last: boolean) => Frames {
  let carry: Buffer = Buffer.alloc(0);
  let line = firstLine;

  /** Whether some line after the record's first looks like a row. */
  const swallowsRow = (bytes: Buffer, { firstNext, end }: Scan): boolean =>
    bytes
      .toString('utf8', firstNext, end)
      .split(/\r\n|\n|\r/)
      .some(looksLikeRow);

  const isAccident = (bytes: Buffer, from: number, scan: Scan): boolean => {
    if (scan.state !== 'closed' || scan.end - from > longestRecord) return true;
    if (scan.fields !== fields) return swallowsRow(bytes, scan);
    return scan.closesAtFieldStart && looksLikeRow(bytes.toString('utf8', scan.lastStart, scan.end));
  };

  const blame = (bytes: Buffer, end: number, { scan, broken }: { scan: Scan; broken: boolean }) => {
    const from = (start: number): string => bytes.toString('utf8', start, end);
    if (!broken && scan.controlAt >= 0) {
      const found = from(scan.controlAt).split(String.fromCharCode(framing.delimiter))[0]!;
      return { rule: 'not-text', found, field: scan.controlField } as const;
    }
    if (broken || scan.state === 'stray')
      return { rule: 'unclosed-quote', found: from(scan.openAt), field: scan.openField } as const;
    return { rule: 'field-count', found: `${scan.fields} fields under a header of ${fields}`, field: -1 } as const;
  };

  return (chunk, last) => {
    const bytes = carry.length > 0 ? Buffer.concat([carry, chunk]) : chunk;
    carry = Buffer.alloc(0);
    const lines: number[] = [];
    const starts: number[] = [];
    const ends: number[] = [];
    const refused: Refused[] = [];
    const runs: Buffer[] = [];
    let runStart = 0;
    let crlfs = 0;
    let at = 0;
    const closeRun = (to: number, next: number): void => {
      if (to > runStart) runs.push(bytes.subarray(runStart, to));
      runStart = next;
    };
    while (at < bytes.length) {
      const scan = scanRecord(bytes, at, framing);
      if (scan.state === 'open' && !last && bytes.length - at <= longestRecord) {
        carry = Buffer.from(bytes.subarray(at));
        break;
      }
      let { end, next, lines: spanned } = scan;
      const broken = scan.state === 'open' || (spanned > 1 && isAccident(bytes, at, scan));
      if (broken) {
        end = scan.firstEnd;
        next = scan.firstNext;
        spanned = 1;
      }
      if (!broken && isBlank(bytes, at, end, framing.delimiter)) closeRun(at, next);
      else if (broken || scan.controlAt >= 0 || scan.fields !== fields) {
        refused.push({ line, text: bytes.toString('utf8', at, end), ...blame(bytes, end, { scan, broken }) });
        closeRun(at, next);
      } else {
        lines.push(line);
        starts.push(at);
        ends.push(end);
        if (next - end === 2) crlfs++;
      }
      line += spanned;
      at = next;
    }
    closeRun(at, at);
    return {
      records: runs.length === 1 ? runs[0]! : Buffer.concat(runs),
      recordDelimiter:
        framing.newline === 'cr' ? ['\r'] : crlfs === 0 ? ['\n'] : crlfs === lines.length ? ['\r\n'] : ['\r\n', '\n'],
      lines,
      text: (index) => bytes.toString('utf8', starts[index], ends[index]),
      refused,
    };
  };
}

/** The cells of framed records, by csv-parse. */
export function cellsOf(
  { records, recordDelimiter, lines }: Pick<Frames, 'records' | 'recordDelimiter' | 'lines'>,
  { delimiter }: Framing,
): string[][] {
  const cells: string[][] = parse(records, {
    delimiter: String.fromCharCode(delimiter),
    record_delimiter: recordDelimiter,
    ltrim: true,
    relax_quotes: true,
    relax_column_count: true,
  });
  // A difference would shift cells to other lines: better no result than a wrong one.
  if (cells.length !== lines.length)
    throw new Error(`Cut ${lines.length} records from line ${lines[0]} on, and csv-parse reads ${cells.length}`);
  return cells;
}

/** Whether a line holds nothing but spaces (and tabs, where they do not separate). */
function isBlank(bytes: Buffer, from: number, to: number, delimiter: number): boolean {
  for (let at = from; at < to; at++) {
    const byte = bytes[at]!;
    if (byte !== 0x20 && (byte !== 0x09 || delimiter === 0x09) && byte !== 0x0d) return false;
  }
  return true;
}
