import { table, type ColumnTable } from 'arquero';

/** Names of the text columns of a reading; null is allowed for all but `instrument`, `model` and `file`. */
export const textColumns = ['instrument', 'model', 'technician', 'measuredAt', 'note', 'winding', 'file'] as const;
export type TextColumn = (typeof textColumns)[number];

/** Names of the covariates of a reading: numbers that may be null. */
export const covariates = [
  'saddleMm',
  'scaleMm',
  'gaugeMm',
  'actionMm',
  'reliefMm',
  'pickupMm',
  'resolutionCents',
] as const;
export type Covariate = (typeof covariates)[number];

/** Texts as small integers: equal texts, equal codes. Code 0 is null. */
export interface Dictionary {
  readonly values: (string | null)[];
  readonly codes: Map<string, number>;
}

/** Code of a cell; outer spaces are dropped and letters with accents composed, so that one name has one code. */
export function codeOf(dictionary: Dictionary, cell: string): number {
  const known = dictionary.codes.get(cell);
  if (known !== undefined) return known;
  const clean = cell.trim().normalize();
  let code = dictionary.codes.get(clean);
  if (code === undefined) {
    code = dictionary.values.length;
    dictionary.values.push(clean);
    dictionary.codes.set(clean, code);
  }
  dictionary.codes.set(cell, code);
  return code;
}

/**
 * Readings while they are read: columns that grow, one entry a reading, all of `length`.
 * Text columns hold codes into their dictionary; a covariate that is not given is NaN, one that never is has no column.
 */
export interface ReadingColumns {
  length: number;
  capacity: number;
  readonly dictionaries: Record<TextColumn, Dictionary>;
  readonly text: Record<TextColumn, Uint32Array>;
  string: Uint8Array;
  fret: Uint8Array;
  pass: Uint32Array;
  cents: Float64Array;
  line: Uint32Array;
  readonly covariates: Partial<Record<Covariate, Float64Array>>;
}

/** Columns without a reading yet. */
export function noReadings(): ReadingColumns {
  const each = <T>(make: () => T) =>
    Object.fromEntries(textColumns.map((name) => [name, make()])) as Record<TextColumn, T>;
  return {
    length: 0,
    capacity: 0,
    dictionaries: each(() => ({ values: [null], codes: new Map([['', 0]]) })),
    text: each(() => new Uint32Array(0)),
    string: new Uint8Array(0),
    fret: new Uint8Array(0),
    pass: new Uint32Array(0),
    cents: new Float64Array(0),
    line: new Uint32Array(0),
    covariates: {},
  };
}

/** Makes room for one more reading. */
export function reserve(columns: ReadingColumns): void {
  if (columns.length < columns.capacity) return;
  columns.capacity = Math.max(1024, 2 * columns.capacity);
  const grown = <T extends Uint8Array | Uint32Array | Float64Array>(old: T, larger: T): T => {
    larger.set(old);
    return larger;
  };
  const { capacity } = columns;
  for (const name of textColumns) columns.text[name] = grown(columns.text[name], new Uint32Array(capacity));
  columns.string = grown(columns.string, new Uint8Array(capacity));
  columns.fret = grown(columns.fret, new Uint8Array(capacity));
  columns.pass = grown(columns.pass, new Uint32Array(capacity));
  columns.cents = grown(columns.cents, new Float64Array(capacity));
  columns.line = grown(columns.line, new Uint32Array(capacity));
  for (const name of covariates) {
    const old = columns.covariates[name];
    if (old) columns.covariates[name] = grown(old, new Float64Array(capacity).fill(NaN, old.length));
  }
}

/** Writes a covariate of the reading at `length`, which has room already. */
export function setCovariate(columns: ReadingColumns, name: Covariate, value: number): void {
  (columns.covariates[name] ??= new Float64Array(columns.capacity).fill(NaN))[columns.length] = value;
}

/** A column that Arquero reads row by row. */
interface ColumnView<T> {
  readonly length: number;
  at(row: number): T;
  [Symbol.iterator](): Iterator<T>;
}

/**
 * A column over typed arrays: a value takes four or eight bytes where an array of strings, or of numbers and nulls,
 * would take several times that.
 */
function view<T>(length: number, at: (row: number) => T): ColumnView<T> {
  return {
    length,
    at,
    *[Symbol.iterator]() {
      for (let row = 0; row < length; row++) yield at(row);
    },
  };
}

/** The readings as an Arquero table; columns that no reading fills are left out, bar those every reading has. */
export function toTable(columns: ReadingColumns): ColumnTable {
  const { length } = columns;
  const text = (name: TextColumn): ColumnView<string | null> => {
    const { values } = columns.dictionaries[name];
    const codes = columns.text[name];
    return view(length, (row) => values[codes[row]!]!);
  };
  const data: Record<string, unknown> = {
    instrument: text('instrument'),
    model: text('model'),
    string: columns.string.subarray(0, length),
    fret: columns.fret.subarray(0, length),
    pass: columns.pass.subarray(0, length),
    cents: columns.cents.subarray(0, length),
    technician: text('technician'),
    measuredAt: text('measuredAt'),
    note: text('note'),
  };
  if (columns.dictionaries.winding.values.length > 1) data.winding = text('winding');
  for (const name of covariates) {
    const values = columns.covariates[name]?.subarray(0, length);
    if (!values) continue;
    data[name] = values.some(Number.isNaN)
      ? view(length, (row) => (Number.isNaN(values[row]!) ? null : values[row]!))
      : values;
  }
  data.file = text('file');
  data.line = columns.line.subarray(0, length);
  return table(data as Parameters<typeof table>[0]);
}
