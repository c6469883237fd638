/** How a file is written down. */
export interface Dialect {
  readonly delimiter: ',' | ';' | '\t';
  readonly decimal: '.' | ',';
  readonly newline: '\n' | '\r\n';
  readonly encoding: 'utf-8' | 'utf-8 with byte order mark' | 'windows-1252';
}

/** A rule of the reader's list that a planted row breaks. */
export type BrokenRule =
  | 'missing'
  | 'no-reading'
  | 'not-a-number'
  | 'not-whole'
  | 'fret-range'
  | 'string-range'
  | 'not-positive'
  | 'cents-range'
  | 'not-a-date'
  | 'unknown-word'
  | 'field-count'
  | 'unclosed-quote'
  | 'not-text'
  | 'no-reference';

/** One record of a log: text by column, columns left out are empty. */
export interface LogRow {
  readonly cells: Readonly<Record<string, string>>;
  /** Set on a planted bad row; `damage` is what happened to its finished line. */
  readonly bad?: { readonly column: string; readonly rule: BrokenRule; readonly damage?: (line: string) => string };
  /** Set on a row with a planted finding: its kind. */
  readonly finding?: string;
}

export interface Log {
  readonly path: string;
  readonly dialect: Dialect;
  readonly columns: readonly string[];
  readonly rows: readonly LogRow[];
}

/** A log as bytes, and the 1-based physical line on which each of its rows begins. */
export interface WrittenLog {
  readonly bytes: Uint8Array;
  readonly lines: readonly number[];
}

/** Writes a log as RFC 4180 says, in its dialect; the last record ends with a line break too. */
export function writeLog({ dialect, columns, rows }: Log): WrittenLog {
  const written = [columns.join(dialect.delimiter)];
  const lines: number[] = [];
  let line = 2;
  for (const row of rows) {
    const plain = columns.map((column) => quoted(row.cells[column] ?? '', dialect)).join(dialect.delimiter);
    const text = row.bad?.damage ? row.bad.damage(plain) : plain;
    written.push(text);
    lines.push(line);
    line += text.split('\n').length;
  }
  return { bytes: encoded(written.join(dialect.newline) + dialect.newline, dialect), lines };
}

/** How many readings a good row holds: one in long form, one for each filled `f<n>` cell in wide form. */
export function readingsIn({ columns }: Log, { cells }: LogRow): number {
  const fretColumns = columns.filter((column) => /^f\d+$/.test(column));
  return fretColumns.length === 0 ? 1 : fretColumns.filter((column) => (cells[column] ?? '') !== '').length;
}

/** A number as the dialect writes it, with a fixed number of decimals and never as minus zero. */
export function written(value: number, decimals: number, dialect: Dialect): string {
  const text = value.toFixed(decimals).replace(/^-(0\.?0*)$/, '$1');
  return dialect.decimal === ',' ? text.replace('.', ',') : text;
}

function quoted(cell: string, { delimiter, newline }: Dialect): string {
  if (!cell.includes(delimiter) && !/["\n]/.test(cell)) return cell;
  return `"${cell.replaceAll('"', '""').replaceAll('\n', newline)}"`;
}

// Windows-1252 where it differs from Latin-1, as far as the notes need it (WHATWG Encoding Standard, index windows-1252).
const windows1252: Record<string, number> = { '„': 0x84, '…': 0x85, '’': 0x92, '“': 0x93, '–': 0x96 };

function encoded(text: string, { encoding }: Dialect): Uint8Array {
  if (encoding !== 'windows-1252')
    return new TextEncoder().encode(encoding === 'utf-8 with byte order mark' ? `\uFEFF${text}` : text);
  return Uint8Array.from(text, (char) => {
    const code = windows1252[char] ?? char.codePointAt(0)!;
    if (code > 0xff) throw new RangeError(`Cannot write "${char}" in Windows-1252; expected one of its characters`);
    return code;
  });
}
