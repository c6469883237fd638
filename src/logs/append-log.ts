import { Buffer, isUtf8 } from 'node:buffer';
import type { ColumnTable } from 'arquero';
import { csvCell } from './csv-text.ts';
import { detectDialect } from './dialect.ts';
import { detectEncoding, linesToUtf8 } from './encoding.ts';
import type { Layout } from './header.ts';
import { LogError } from './log-error.ts';
import { noMapping, type LogColumn } from './mapping.ts';
import type { ModelSpec } from './models.ts';
import { readLog } from './read-log.ts';
import type { Reject } from './reject.ts';

/** How rows of one log are written: its columns in their order, and its dialect. */
export interface LogFormat {
  /** The header as a line of its own, line break included, without a byte order mark. */
  readonly headerLine: string;
  /** Where rows start: bytes into the text as UTF-8, without a byte order mark. */
  readonly rowsFrom: number;
  /** Number of cells of a row. */
  readonly width: number;
  readonly columns: Layout['columns'];
  readonly separator: string;
  readonly decimalMark: '.' | ',';
  readonly lineBreak: '\n' | '\r\n' | '\r';
}

/** What a log to append to must have columns for. */
export interface AppendNeeds {
  readonly reads: 'cents' | 'hz';
  readonly technician: boolean;
}

/** A row to write: text by column; numbers with a decimal point. A column that the log has and the row has not stays empty. */
export type RowCells = Partial<Record<LogColumn, string>>;

/** A reading as it stands in the log, in the units of `readLog`. */
export interface LoggedReading {
  readonly instrument: string;
  readonly model: string;
  readonly string: number;
  readonly fret: number;
  readonly pass: number;
  readonly cents: number;
  readonly technician: string | null;
  readonly saddleMm: number | null;
  readonly scaleMm: number | null;
  readonly resolutionCents: number | null;
}

/** The format of a log begun anew: long form, decimal points, lines ended as RFC 4180 has it. */
export function newFormat(reads: 'cents' | 'hz', separator: ',' | '\t' = ','): LogFormat {
  const reading = reads === 'hz' ? 'hz,open_hz' : 'cents,open_cents';
  const header = `instrument,model,string,fret,pass,${reading},measured_at,technician,saddle_mm,note\r\n`;
  return formatOf(Buffer.from(header.replaceAll(',', separator)), 'a new log', { reads, technician: true });
}

/**
 * The format of a log that is to be appended to.
 *
 * @param bytes the file's bytes
 * @param file  name for messages
 * @throws {LogError} when rows of ours would not fit under its header; says what to do
 */
export function formatOf(bytes: Buffer, file: string, needs: AppendNeeds): LogFormat {
  const { encoding, markBytes } = detectEncoding(bytes);
  if (encoding !== 'lines')
    throw new LogError(file, 'the log is UTF-16 text', 'Save it as UTF-8, or give the name of a new file');
  const text = linesToUtf8(bytes.subarray(markBytes));
  const { framing, decimalMark, layout, rowsFrom } = detectDialect(text, noMapping, file);
  const newOne = 'Give the name of a new file, which gets every column';
  if (layout.frets.length > 0)
    throw new LogError(file, 'the log has one string a row, and readings come one a row', newOne);
  const wanted: LogColumn[] = [
    needs.reads,
    'pass',
    'measured_at',
    ...(needs.technician ? ['technician' as const] : []),
  ];
  const missing = wanted.filter((name) => !layout.columns[name]);
  const { reads } = needs;
  if (missing[0] === reads)
    throw new LogError(
      file,
      reads === 'hz' ? 'the log holds cents, not hertz' : 'the log holds hertz, not cents',
      `${reads === 'hz' ? 'Leave out --hz' : 'Give --hz'}, or give the name of a new file`,
    );
  if (missing.length > 0)
    throw new LogError(
      file,
      `the log has no column ${missing.join(', ')}`,
      `${newOne}, or add the column${missing.length === 1 ? '' : 's'} to its header and its rows`,
    );
  const separator = String.fromCharCode(framing.delimiter);
  const broken = /\r\n|\n|\r/.exec(text.toString('utf8', 0, rowsFrom))?.[0];
  const lineBreak = framing.newline === 'cr' ? '\r' : broken === '\r\n' ? '\r\n' : '\n';
  const header = text.toString('utf8', 0, rowsFrom).replace(/[\r\n]+$/, '');
  return {
    headerLine: `${header}${lineBreak}`,
    rowsFrom,
    width: layout.headers.length,
    columns: layout.columns,
    separator,
    // Where no row shows a mark: semicolons are what shops with decimal commas separate by.
    decimalMark: decimalMark === 'either' ? (separator === ';' ? ',' : '.') : decimalMark,
    lineBreak,
  };
}

const texts: ReadonlySet<LogColumn> = new Set(['instrument', 'model', 'technician', 'note', 'measured_at']);

/** A row as a line of the log, line break included; cells without a column are left out. */
export function rowLine(format: LogFormat, row: RowCells): string {
  const cells = Array.from({ length: format.width }, () => '');
  for (const [name, value] of Object.entries(row) as [LogColumn, string][]) {
    const place = format.columns[name];
    if (!place) continue;
    const number = value.replace('.', format.decimalMark);
    cells[place.index] = texts.has(name)
      ? csvCell(value, format.separator)
      : number.includes(format.separator)
        ? `"${number}"`
        : number;
  }
  return `${cells.join(format.separator)}${format.lineBreak}`;
}

/** The one reading of a line of the log, or why it would be refused, as `readLog` finds under the log's own header. */
export function readLine(
  format: LogFormat,
  line: string,
  { file, models }: { readonly file: string; readonly models: readonly ModelSpec[] },
): LoggedReading | Reject {
  const { readings, rejects } = readLog(`${format.headerLine}${line}`, file, { models });
  const [reading] = loggedReadings(readings);
  const reject = rejects[0] ?? { file, line: 0, column: '', found: line.trim(), rule: 'field-count', text: line };
  return reading && rejects.length === 0 ? reading : reject;
}

/** Readings of a table as `readLog` gives it, one by one. */
export function loggedReadings(table: ColumnTable): LoggedReading[] {
  const names = table.columnNames();
  const column = <T>(name: string): ArrayLike<T> | undefined =>
    names.includes(name) ? (table.array(name) as ArrayLike<T>) : undefined;
  const [instrument, model] = [column<string>('instrument')!, column<string>('model')!];
  const [string, fret, pass] = [column<number>('string')!, column<number>('fret')!, column<number>('pass')!];
  const cents = column<number>('cents')!;
  const technician = column<string | null>('technician');
  const saddleMm = column<number | null>('saddleMm');
  const scaleMm = column<number | null>('scaleMm');
  const resolutionCents = column<number | null>('resolutionCents');
  return Array.from({ length: table.numRows() }, (_, row) => ({
    instrument: instrument[row]!,
    model: model[row]!,
    string: string[row]!,
    fret: fret[row]!,
    pass: pass[row]!,
    cents: cents[row]!,
    technician: technician?.[row] ?? null,
    saddleMm: saddleMm?.[row] ?? null,
    scaleMm: scaleMm?.[row] ?? null,
    resolutionCents: resolutionCents?.[row] ?? null,
  }));
}

/**
 * What is at the end of a log. `ended`: a line break, as it should be. `unended`: a row that is whole but for its line
 * break. `torn`: a row, from byte `from` on, that was cut off while it was written.
 */
export type LogEnd =
  | { readonly kind: 'ended' }
  | { readonly kind: 'unended'; readonly row: string; readonly missing: string }
  | { readonly kind: 'torn'; readonly from: number; readonly row: string };

/**
 * Looks at the end of a log. A last line without its line break counts as whole only where a cut could not have changed a
 * number: it reads as a row and its last column is text, or it is the header.
 */
export function logEnd(
  bytes: Buffer,
  format: LogFormat,
  about: { readonly file: string; readonly models: readonly ModelSpec[] },
): LogEnd {
  const last = format.lineBreak === '\r' ? 0x0d : 0x0a;
  if (bytes.length === 0 || bytes.at(-1) === last) return { kind: 'ended' };
  const from = bytes.lastIndexOf(last) + 1;
  const tail = bytes.subarray(from);
  const row = linesToUtf8(tail).toString('utf8');
  const line = row.replace(/\r$/, '');
  const missing = format.lineBreak === '\r\n' && row.endsWith('\r') ? '\n' : format.lineBreak;
  const text = linesToUtf8(bytes.subarray(detectEncoding(bytes).markBytes));
  if (text.length <= format.rowsFrom) return { kind: 'unended', row: line, missing };
  const endsInText = (['note', 'technician', 'model', 'instrument'] as const).some(
    (name) => format.columns[name]?.index === format.width - 1,
  );
  const cutLetter = !isUtf8(tail) && isUtf8(bytes.subarray(0, from));
  // Zero bytes are what some file systems leave where a write was begun as the power failed.
  const isWhole = !tail.includes(0) && (row.endsWith('\r') || (endsInText && !cutLetter));
  return isWhole && 'cents' in readLine(format, line, about)
    ? { kind: 'unended', row: line, missing }
    : { kind: 'torn', from, row: line };
}

/** What is wrong with a name for the log, worded to stand after "expected"; null where nothing is. */
export function nameNeeds(name: string): string | null {
  if (name.trim() === '') return 'a name';
  if (/\p{Cc}/u.test(name)) return 'a name of letters and digits, without control characters';
  // A spreadsheet would run it as a formula.
  return /^[=+\-@]/.test(name.trim()) ? 'a name that begins with a letter or a digit' : null;
}
