import { LogError } from './log-error.ts';

/** Columns of a log, as DESIGN and the documentation spell them; `f12` and the like, one a fret, come on top in wide form. */
export const logColumns = [
  'instrument',
  'model',
  'string',
  'fret',
  'cents',
  'hz',
  'open_cents',
  'open_hz',
  'pass',
  'measured_at',
  'technician',
  'note',
  'saddle_mm',
  'scale_mm',
  'gauge_mm',
  'gauge_in',
  'winding',
  'action_mm',
  'relief_mm',
  'pickup_mm',
  'resolution_cents',
] as const;

export type LogColumn = (typeof logColumns)[number];

/** Units a mapping may state: millimetres in one of each length unit; for a fret's column of a wide log also hertz. */
const millimetres = { mm: 1, cm: 10, in: 25.4, thou: 0.0254 } as const;

type Unit = keyof typeof millimetres | 'cents' | 'hz';

/** One foreign header: the column it stands for (null: not read) and the unit its numbers are in. */
export interface MappedColumn {
  readonly column: string | null;
  readonly unit?: Unit;
}

/** What a mapping file says; headers are kept in the form of {@link headerKey}. */
export interface Mapping {
  readonly columns: ReadonlyMap<string, MappedColumn>;
  /** Words that stand for an empty cell, such as `NA`. */
  readonly missing: ReadonlySet<string>;
  /** Pitch standard in hertz, for frequencies read without an open string. */
  readonly a4Hz: number;
}

/** The mapping of a log that needs none: headers as documented, A4 = 440 Hz (ISO 16). */
export const noMapping: Mapping = { columns: new Map(), missing: new Set(), a4Hz: 440 };

/** A header without regard to case, outer spaces and what joins its words: ` Saddle mm` and `SADDLE_MM` are one. */
export function headerKey(header: string): string {
  return header
    .trim()
    .toLowerCase()
    .replace(/[\s-]+/g, '_');
}

/** The fret of a wide column `f12`, or NaN when the name is not one. */
export function fretOfColumn(name: string): number {
  return /^f\d+$/.test(name) ? Number(name.slice(1)) : NaN;
}

/** What one unit of a mapped column is in the unit of the column itself; 1 where none is stated. */
export function unitFactor(unit: string | undefined): number {
  return unit !== undefined && Object.hasOwn(millimetres, unit) ? millimetres[unit as keyof typeof millimetres] : 1;
}

/**
 * Reads a mapping file: JSON as `shared/mapping.schema.json` describes it.
 *
 * @param file name for messages
 * @throws {LogError} when the text is not JSON, or says something a mapping cannot say
 */
export function readMapping(text: string, file: string): Mapping {
  const refuse = (problem: string): never => {
    throw new LogError(file, problem, 'Write the mapping as shared/mapping.schema.json describes it');
  };
  let json: unknown;
  try {
    json = JSON.parse(text.replace(/^\ufeff/, ''));
  } catch (error) {
    return refuse(`the mapping is not JSON (${(error as Error).message})`);
  }
  if (!isObject(json)) return refuse(`found ${kindOf(json)}, expected an object with "columns"`);
  const { columns = {}, missing = [], a4_hz: a4Hz = 440 } = json;
  for (const key of Object.keys(json))
    if (!['$schema', 'columns', 'missing', 'a4_hz'].includes(key))
      refuse(`found "${key}", expected "columns", "missing" or "a4_hz"`);
  if (!isObject(columns)) return refuse(`"columns" is ${kindOf(columns)}, expected an object from header to column`);
  if (!Array.isArray(missing) || missing.some((word) => typeof word !== 'string'))
    return refuse('"missing" is not a list of words');
  if (typeof a4Hz !== 'number' || !(a4Hz > 0)) return refuse(`"a4_hz" is ${JSON.stringify(a4Hz)}, expected hertz`);
  const mapped = Object.entries(columns).map(([header, entry]): [string, MappedColumn] => {
    const { column, unit, ...rest } = isObject(entry) ? entry : { column: entry };
    for (const key of Object.keys(rest)) refuse(`"${header}" has "${key}", expected "column" and "unit"`);
    if (column !== null && !isColumn(column))
      return refuse(
        `"${header}" stands for ${JSON.stringify(column)}, expected ${logColumns.join(', ')}, f1 to f36, or null`,
      );
    if (unit === undefined) return [headerKey(header), { column }];
    const allowed = unitsOf(column);
    if (!allowed.includes(unit as Unit))
      return refuse(`"${header}" has the unit ${JSON.stringify(unit)}, expected ${allowed.join(', ') || 'none'}`);
    return [headerKey(header), { column, unit: unit as Unit }];
  });
  return { columns: new Map(mapped), missing: new Set(missing as string[]), a4Hz };
}

function unitsOf(column: string | null): readonly Unit[] {
  if (column === null) return [];
  if (column.endsWith('_mm')) return Object.keys(millimetres) as Unit[];
  return Number.isNaN(fretOfColumn(column)) ? [] : ['cents', 'hz'];
}

function isColumn(value: unknown): value is string {
  if (typeof value !== 'string') return false;
  const fret = fretOfColumn(value);
  return (logColumns as readonly string[]).includes(value) || (fret >= 1 && fret <= 36 && value === `f${fret}`);
}

function isObject(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

function kindOf(value: unknown): string {
  return value === null ? 'null' : Array.isArray(value) ? 'a list' : `a ${typeof value}`;
}
