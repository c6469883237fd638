import { LogError } from './log-error.ts';
import { rejectColumns } from './reject.ts';
import { fretOfColumn, headerKey, logColumns, unitFactor, type LogColumn, type Mapping } from './mapping.ts';

/** Where a known column stands in a record, and what one of its units is in ours (25.4 for inches read as mm). */
export interface Place {
  readonly index: number;
  /** The header as the file spells it, on one line. */
  readonly header: string;
  readonly factor: number;
}

/** One fret's column of a wide log. */
export interface FretPlace extends Place {
  readonly fret: number;
  readonly reads: 'cents' | 'hz';
}

/** What a header line says about the records under it. */
export interface Layout {
  /** Every header as the file spells it; every record must have as many fields. */
  readonly headers: readonly string[];
  readonly columns: Partial<Record<LogColumn, Place>>;
  /** The frets of a wide log; empty in a long one. */
  readonly frets: readonly FretPlace[];
  /** Headers that mean nothing to us, as the file spells them; not those a mapping leaves out on purpose. */
  readonly ignored: readonly string[];
}

/** How many columns of a header line would be understood; tells the true separator from the others. */
export function knownColumns(headers: readonly string[], mapping: Mapping): number {
  return headers.filter((header) => meaning(header, mapping) !== null).length;
}

/**
 * Reads the header of a log.
 *
 * @throws {LogError} when a column that every log needs is not there, or two headers mean the same column
 */
export function readHeader(headers: readonly string[], mapping: Mapping, file: string): Layout {
  const columns: Partial<Record<LogColumn, Place>> = {};
  const frets: FretPlace[] = [];
  const ignored: string[] = [];
  const seen = new Map<string, Place>();
  headers.forEach((written, index) => {
    const header = oneLine(written);
    const known = meaning(header, mapping);
    if (known === null) {
      if (header !== '' && mapping.columns.get(headerKey(header))?.column !== null) ignored.push(header);
      return;
    }
    const twin = seen.get(known.column);
    if (twin !== undefined)
      throw new LogError(
        file,
        `two columns stand for ${known.column}: "${twin.header}" (column ${twin.index + 1}) and "${header}" (column ${index + 1})`,
        'Delete or rename one of them, or map the one not wanted to null in a mapping file (--mapping)',
      );
    const place = { index, header, factor: unitFactor(known.unit) };
    seen.set(known.column, place);
    const fret = fretOfColumn(known.column);
    if (Number.isNaN(fret)) columns[known.column as LogColumn] = place;
    else frets.push({ ...place, fret, reads: known.unit === 'hz' ? 'hz' : 'cents' });
  });
  refuseUnreadable(headers, columns, frets, file);
  return { headers: headers.map(oneLine), columns, frets, ignored };
}

/** A header as a message can show it. */
function oneLine(header: string): string {
  return header.trim().replace(/\s+/g, ' ');
}

function meaning(header: string, mapping: Mapping): { column: string; unit?: string } | null {
  const key = headerKey(header);
  const { column = key, unit } = mapping.columns.get(key) ?? {};
  if (column === null) return null;
  const known = (logColumns as readonly string[]).includes(column) || !Number.isNaN(fretOfColumn(column));
  return known ? (unit === undefined ? { column } : { column, unit }) : null;
}

function refuseUnreadable(
  headers: readonly string[],
  columns: Layout['columns'],
  frets: readonly FretPlace[],
  file: string,
): void {
  if (headers.map(oneLine).join() === rejectColumns.join())
    throw new LogError(
      file,
      'a list of refused rows, not a log',
      'Keep such lists (--rejects) outside the folder of the logs',
    );
  const advice =
    'Name the columns in the first line, or say in a mapping file (--mapping) what the headers stand for' +
    (Object.keys(columns).length + frets.length > 0 ? '' : '; if it is no log, move it away or give the logs by name');
  const listed = headers.map((header) => `"${oneLine(header)}"`);
  const found =
    listed.length > 12 ? `${listed.slice(0, 12).join(', ')} and ${listed.length - 12} more` : listed.join(', ');
  const missing = (['instrument', 'model', 'string'] as const).filter((name) => !columns[name]) as string[];
  const reading = columns.cents ?? columns.hz;
  if (frets.length === 0) {
    if (!columns.fret) missing.push('fret');
    if (!reading) missing.push('cents (or hz)');
  } else if (columns.fret ?? reading) {
    throw new LogError(
      file,
      `columns for single frets (${frets[0]!.header}) stand beside "${(columns.fret ?? reading)!.header}"`,
      'Write one reading a row with fret and cents, or one string a row with f12, f17 and so on, not both',
    );
  }
  if (missing.length > 0)
    throw new LogError(file, `no column${missing.length > 1 ? 's' : ''} ${missing.join(', ')}; found ${found}`, advice);
}
