import { Buffer } from 'node:buffer';
import { cellsOf, framer } from './frame.ts';
import { headerKey } from './mapping.ts';
import { expected } from './reject.ts';
import { scanRecord } from './scan.ts';

/** One record of a small table. */
export interface TableRow {
  /** 1-based physical line. */
  readonly line: number;
  /** The trimmed cell under a column, empty where the table has none. */
  readonly cell: (column: string) => string;
}

/** A CSV file small enough to be read at once. */
export interface SmallTable {
  /** Column names in the form of {@link headerKey}, and as the file spells them. */
  readonly columns: readonly string[];
  readonly headers: readonly string[];
  /** Records that are not blank, in order. */
  readonly rows: readonly TableRow[];
  /** One sentence, with file and line, for every record that is none. */
  readonly problems: readonly string[];
}

/** Reads a small CSV file with a header; comma, semicolon or tab separated, whichever parts the header most. */
export function readSmallTable(text: string, file: string): SmallTable {
  const bytes = Buffer.from(text.replace(/^\ufeff/, ''));
  const newline = bytes.includes(0x0a) || !bytes.includes(0x0d) ? 'lf' : 'cr';
  const [scan, framing] = [',', ';', '\t']
    .map((separator) => ({ delimiter: separator.charCodeAt(0), newline }) as const)
    .map((each) => [scanRecord(bytes, 0, each), each] as const)
    .reduce((a, b) => (b[0].fields > a[0].fields ? b : a));
  const frame = framer(framing, { fields: scan.fields, looksLikeRow: () => false, firstLine: 1 });
  const frames = frame(bytes, true);
  const [header = [], ...records] = cellsOf(frames, framing);
  const columns = header.map(headerKey);
  const rows = records
    .map((record, at): TableRow => ({
      line: frames.lines[at + 1]!,
      cell: (column) => record[columns.indexOf(column)]?.trim() ?? '',
    }))
    .filter((_, at) => records[at]!.some((cell) => cell.trim() !== ''));
  const problems = frames.refused.map(
    ({ line, rule, found }) => `${file}:${line}: found ${found}, expected ${expected[rule]}`,
  );
  return { columns, headers: header.map((name) => name.trim()), rows, problems };
}
