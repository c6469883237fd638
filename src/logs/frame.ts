import { Buffer } from 'node:buffer';
import { parse } from 'csv-parse/sync';
import type { RejectRule } from './reject.ts';

/** How the bytes of a log are cut into records. */
export interface Framing {
  /** The separator, one ASCII byte. */
  readonly delimiter: number;
  /** What ends a line: LF (with or without a CR before it), or CR alone. */
  readonly newline: 'lf' | 'cr';
}

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

/** Where one record ends, and what is in it. */
export interface Scan {
  /** End of the record without its line break. */
  end: number;
  /** Start of what follows. */
  next: number;
  /** End of the record's first physical line, and the start of the line after it. */
  firstEnd: number;
  firstNext: number;
  /** Start of the record's last physical line. */
  lastStart: number;
  lines: number;
  fields: number;
  state: 'closed' | 'open' | 'stray';
  /** Start of the last quoted text that opens on the first line, and its field (0-based). */
  openAt: number;
  openField: number;
  /** A closing quote that stands right after a separator or a line break. */
  closesAtFieldStart: boolean;
  /** Start of the first field with a control character, and which it is (0-based); -1 when there is none. */
  controlAt: number;
  controlField: number;
}

const quote = 0x22;
const lf = 0x0a;
const cr = 0x0d;
const tab = 0x09;

/**
 * A record of several lines with more bytes than this is taken for a quote never closed. A spreadsheet's cell holds at
 * most 32 767 characters, of up to three bytes each.
 */
const longestRecord = 1 << 17;

/**
 * Finds the end of the record that starts at `from`, quoting as RFC 4180 has it, but for spaces before a
 * quote, which are let pass. A quote inside an unquoted field
 * is text. `stray` is a closing quote with more text after it: on a line of its own that is text too (as csv-parse reads
 * it with `relax_quotes`), but a text of several lines that ends so was never closed.
 */
export function scanRecord(bytes: Buffer, from: number, { delimiter, newline }: Framing): Scan {
  const eol = newline === 'lf' ? lf : cr;
  const length = bytes.length;
  const scan: Scan = {
    end: length,
    next: length,
    firstEnd: -1,
    firstNext: -1,
    lastStart: from,
    lines: 1,
    fields: 1,
    state: 'closed',
    closesAtFieldStart: false,
    openAt: -1,
    openField: -1,
    controlAt: -1,
    controlField: -1,
  };
  let quoted = false;
  let fieldAt = from;
  /** Where the field's text starts, or will: spaces before it do not count, a quote after them opens. */
  let textAt = from;
  let at = from;
  for (; at < length; at++) {
    const byte = bytes[at]!;
    if (quoted) {
      if (byte === quote) {
        const after = at + 1 < length ? bytes[at + 1]! : eol;
        if (after === quote) {
          at++;
          continue;
        }
        quoted = false;
        const crlf = after === cr && newline === 'lf' && (at + 2 >= length || bytes[at + 2] === lf);
        if (after !== delimiter && after !== eol && !crlf) {
          scan.state = 'stray';
          if (scan.lines > 1) break;
        }
        const before = bytes[at - 1]!;
        scan.closesAtFieldStart = before === delimiter || before === lf || before === cr;
      } else if (byte === eol) {
        if (scan.lines === 1) {
          scan.firstEnd = newline === 'lf' && bytes[at - 1] === cr ? at - 1 : at;
          scan.firstNext = at + 1;
        }
        scan.lines++;
        scan.lastStart = at + 1;
      } else if ((byte < 0x20 || byte === 0x7f) && isControl(byte)) markControl(scan, fieldAt);
    } else if (byte === delimiter) {
      scan.fields++;
      fieldAt = at + 1;
      textAt = at + 1;
    } else if (byte === eol) {
      scan.end = newline === 'lf' && at > from && bytes[at - 1] === cr ? at - 1 : at;
      scan.next = at + 1;
      break;
    } else {
      if (at === textAt && (byte === 0x20 || byte === tab || byte === cr || byte === lf)) textAt++;
      else if (byte === quote && at === textAt) {
        quoted = true;
        if (scan.lines === 1) {
          scan.openAt = at;
          scan.openField = scan.fields - 1;
        }
      } else if ((byte < 0x20 || byte === 0x7f) && isControl(byte)) markControl(scan, fieldAt);
    }
  }
  if (quoted) scan.state = 'open';
  if (scan.firstEnd < 0) {
    scan.firstEnd = scan.end;
    scan.firstNext = scan.next;
  }
  return scan;
}

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

function isControl(byte: number): boolean {
  return byte !== tab && byte !== cr && byte !== lf;
}

function markControl(scan: Scan, fieldAt: number): void {
  if (scan.controlAt >= 0) return;
  scan.controlAt = fieldAt;
  scan.controlField = scan.fields - 1;
}

/** Whether a line holds nothing but spaces (and tabs, where they do not separate). */
function isBlank(bytes: Buffer, from: number, to: number, delimiter: number): boolean {
  for (let at = from; at < to; at++) {
    const byte = bytes[at]!;
    if (byte !== 0x20 && (byte !== tab || delimiter === tab) && byte !== cr) return false;
  }
  return true;
}
