import { Buffer } from 'node:buffer';
import { cellsOf, framer } from './frame.ts';
import { knownColumns, readHeader, type Layout } from './header.ts';
import { LogError } from './log-error.ts';
import type { Mapping } from './mapping.ts';
import { scanRecord, type Framing } from './scan.ts';
import { decimalMarkOf, type DecimalMark } from './number.ts';

/** How one log is written, and what its header says. */
export interface Dialect {
  readonly framing: Framing;
  readonly decimalMark: DecimalMark;
  readonly layout: Layout;
  /** Where the rows start: bytes into the text, and the physical line. */
  readonly rowsFrom: number;
  readonly rowsLine: number;
}

const separators = [',', ';', '\t'];

/**
 * Finds separator, line break, decimal mark and columns of a log.
 *
 * The separator is the one under which most of the header's columns are known; a first line `sep=;`, as spreadsheets
 * write it, is obeyed. The decimal mark is the one the first rows show.
 *
 * @param start the log's first bytes as UTF-8, without a byte order mark, whole lines
 * @throws {LogError} when there is no header, or it lacks a column
 */
export function detectDialect(start: Buffer, mapping: Mapping, file: string): Dialect {
  const newline = start.includes(0x0a) || !start.includes(0x0d) ? 'lf' : 'cr';
  let from = 0;
  let line = 1;
  let stated: string | undefined;
  let header = scanRecord(start, 0, { delimiter: 0, newline });
  for (;;) {
    const text = start.toString('utf8', from, header.firstEnd);
    stated = /^"?sep=([,;\t])"?\s*$/i.exec(text)?.[1] ?? stated;
    if (text.trim() !== '' && !/^"?sep=.?"?\s*$/i.test(text)) break;
    if (header.firstNext >= start.length) throw new LogError(file, 'the file has no header', adviceForEmpty);
    from = header.firstNext;
    line++;
    header = scanRecord(start, from, { delimiter: 0, newline });
  }
  const candidates = (stated === undefined ? separators : [stated]).map((separator) => {
    const framing = { delimiter: separator.charCodeAt(0), newline } as const;
    const scan = scanRecord(start, from, framing);
    if (scan.state === 'open') return { framing, separator, scan, headers: [], known: -1 };
    const headers = cellsOfOne(start.subarray(from, scan.end), framing);
    return { framing, separator, scan, headers, known: knownColumns(headers, mapping) };
  });
  const best = candidates.reduce((a, b) =>
    b.known > a.known || (b.known === a.known && b.headers.length > a.headers.length) ? b : a,
  );
  if (best.known < 0)
    throw new LogError(file, `line ${line}, the header, opens a quote and never closes it`, 'Close the quote');
  const layout = readHeader(best.headers, mapping, file);
  const fallback = best.separator === ',' ? '.' : 'either';
  return {
    framing: best.framing,
    decimalMark: decimalMarkOf(numberCells(start.subarray(best.scan.next), best.framing, layout), fallback),
    layout,
    rowsFrom: best.scan.next,
    rowsLine: line + best.scan.lines,
  };
}

/** What to do about a log with nothing in it. */
export const adviceForEmpty =
  'Export the log again: a header line, then one line a reading, separated by commas, semicolons or tabs';

/** Cells of one record that ends where the bytes do. */
function cellsOfOne(record: Buffer, framing: Framing): string[] {
  const recordDelimiter = [framing.newline === 'lf' ? '\n' : '\r'];
  return cellsOf({ records: record, recordDelimiter, lines: [1] }, framing)[0]!;
}

/** Cells of number columns in the first rows. */
function* numberCells(rows: Buffer, framing: Framing, { headers, columns, frets }: Layout): Generator<string> {
  const words = new Set(['instrument', 'model', 'technician', 'note', 'measured_at', 'winding']);
  const places = [
    ...Object.entries(columns)
      .filter(([name]) => !words.has(name))
      .map(([, place]) => place),
    ...frets,
  ];
  const most = 1 << 16;
  const lineBreak = framing.newline === 'lf' ? 0x0a : 0x0d;
  const some = rows.length <= most ? rows : rows.subarray(0, rows.lastIndexOf(lineBreak, most) + 1);
  const frame = framer(framing, { fields: headers.length, looksLikeRow: () => false, firstLine: 1 });
  for (const row of cellsOf(frame(some, true), framing)) for (const { index } of places) yield row[index]!;
}
