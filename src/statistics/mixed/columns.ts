import type { Columns } from './description.ts';

const shown = 5;

/** "row 3", or "rows 3, 7, 9 and 12 more"; rows are numbered from 1. */
export function listRows(rows: readonly number[]): string {
  const numbers = rows.slice(0, shown).map((row) => row + 1);
  const more = rows.length > shown ? ` and ${rows.length - shown} more` : '';
  return `${rows.length === 1 ? 'row' : 'rows'} ${numbers.join(', ')}${more}`;
}

/** Rows for which `isBad` holds. */
function rowsWhere(count: number, isBad: (row: number) => boolean): number[] {
  const rows: number[] = [];
  for (let row = 0; row < count; row++) if (isBad(row)) rows.push(row);
  return rows;
}

function find(columns: Columns, name: string, use: string): Columns[string] {
  const column = Object.hasOwn(columns, name) ? columns[name] : undefined;
  if (column === undefined)
    throw new RangeError(
      `Cannot fit: no column "${name}" for ${use}; the columns are ${Object.keys(columns)
        .map((key) => `"${key}"`)
        .join(', ')}`,
    );
  return column;
}

function requireLength(name: string, found: number, expected: number): void {
  if (found !== expected)
    throw new RangeError(`Cannot fit: column "${name}" has ${found} rows; expected ${expected}, as the response has`);
}

/** Throws a RangeError that names every row (up to five) in which a numeric column is not a finite number. */
export function requireFinite(name: string, values: ArrayLike<unknown>): void {
  const bad = rowsWhere(values.length, (row) => !Number.isFinite(values[row]));
  if (bad.length > 0)
    throw new RangeError(
      `Cannot fit: column "${name}" holds ${String(values[bad[0]!])} in ${listRows(bad)}; expected a finite number in every row`,
    );
}

/**
 * The named column as finite numbers.
 *
 * @throws {RangeError} when there is no such column, its length is wrong, or a value is not finite; rows count from 1
 */
export function numericColumn(columns: Columns, name: string, use: string, length?: number): Float64Array {
  const column = find(columns, name, use);
  requireLength(name, column.length, length ?? column.length);
  requireFinite(name, column);
  return Float64Array.from(column as ArrayLike<number>);
}

/** As {@link numericColumn}, and every value greater than zero. */
export function positiveColumn(columns: Columns, name: string, use: string, length: number): Float64Array {
  const values = numericColumn(columns, name, use, length);
  const bad = rowsWhere(length, (row) => !(values[row]! > 0));
  if (bad.length > 0)
    throw new RangeError(
      `Cannot fit: ${use} "${name}" is ${values[bad[0]!]!} in ${listRows(bad)}; expected more than 0 in every row`,
    );
  return values;
}

/** Labels of a column as whole numbers 0, 1, ... with the labels they stand for. */
export interface Coded {
  readonly codes: Int32Array;
  readonly labels: readonly string[];
}

/**
 * A column's labels, coded in order of first appearance.
 *
 * @throws {RangeError} when there is no such column, its length is wrong, or a label is missing (null, NaN)
 */
export function labelColumn(columns: Columns, name: string, use: string, length: number): Coded {
  const column = find(columns, name, use) as ArrayLike<unknown>;
  requireLength(name, column.length, length);
  const codes = new Int32Array(length);
  const known = new Map<unknown, number>();
  const missing: number[] = [];
  let last: unknown = undefined;
  let lastCode = -1;
  for (let row = 0; row < length; row++) {
    const label = column[row];
    if (label === last && lastCode >= 0) {
      codes[row] = lastCode;
      continue;
    }
    if (label === null || label === undefined || Number.isNaN(label)) {
      missing.push(row);
      continue;
    }
    let code = known.get(label);
    if (code === undefined) known.set(label, (code = known.size));
    codes[row] = code;
    last = label;
    lastCode = code;
  }
  if (missing.length > 0)
    throw new RangeError(
      `Cannot fit: column "${name}" has no label in ${listRows(missing)}; expected a label in every row`,
    );
  return { codes, labels: [...known.keys()].map(String) };
}

/** The labels sorted (numbers by size where all are numbers, else text by code unit), with the codes to match. */
export function sortedLevels({ codes, labels }: Coded): Coded {
  const numeric = labels.every((label) => label.trim() !== '' && Number.isFinite(Number(label)));
  const order = labels.map((_, code) => code);
  order.sort((a, b) => {
    const [left, right] = [labels[a]!, labels[b]!];
    if (numeric && Number(left) !== Number(right)) return Number(left) - Number(right);
    return left < right ? -1 : left > right ? 1 : 0;
  });
  const rank = new Int32Array(labels.length);
  order.forEach((code, place) => (rank[code] = place));
  return { codes: codes.map((code) => rank[code]!), labels: order.map((code) => labels[code]!) };
}

/** The combinations of several coded columns that occur, coded in order of first appearance, labels joined by ":". */
export function combine(parts: readonly Coded[]): Coded {
  return parts.slice(1).reduce((left, right) => {
    const length = left.codes.length;
    const codes = new Int32Array(length);
    const known = new Map<number, number>();
    const width = right.labels.length;
    let lastPair = -1;
    let lastCode = 0;
    for (let row = 0; row < length; row++) {
      const pair = left.codes[row]! * width + right.codes[row]!;
      if (pair !== lastPair) {
        let code = known.get(pair);
        if (code === undefined) known.set(pair, (code = known.size));
        lastPair = pair;
        lastCode = code;
      }
      codes[row] = lastCode;
    }
    const labels = [...known.keys()].map(
      (pair) => `${left.labels[Math.floor(pair / width)]!}:${right.labels[pair % width]!}`,
    );
    return { codes, labels };
  }, parts[0]!);
}
