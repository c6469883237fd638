import { labelColumn, numericColumn, requireFinite, sortedLevels } from './columns.ts';
import type { CategoricalTerm, Columns, DesignMatrix, FixedTerm, NumericTerm } from './description.ts';

/**
 * The fixed-effects model matrix, n rows by p columns, by rows without its zeros: row i holds the values
 * `values[start[i]..start[i + 1])` in the columns `columns[...]`, ascending.
 */
export interface FixedDesign {
  readonly names: readonly string[];
  readonly start: Int32Array;
  readonly columns: Int32Array;
  readonly values: Float64Array;
}

/** One factor of a product: how many columns it spans and, row by row, which of them are not zero. */
interface Factor {
  readonly names: readonly string[];
  /** For level `codes[row]` the non-zero columns and values; without codes, one column whose value is `values[row]`. */
  readonly codes: Int32Array | null;
  readonly levels: readonly { readonly columns: readonly number[]; readonly values: readonly number[] }[];
  readonly values: Float64Array | null;
}

function numericFactor(columns: Columns, { numeric }: NumericTerm, length: number): Factor {
  return { names: [numeric], codes: null, levels: [], values: numericColumn(columns, numeric, 'a fixed term', length) };
}

function categoricalFactor(columns: Columns, term: CategoricalTerm, length: number): Factor {
  const { codes, labels } = sortedLevels(labelColumn(columns, term.categorical, 'a fixed term', length));
  const contrasts = term.contrasts ?? 'treatment';
  const last = labels.length - 1;
  const named = (kept: readonly string[]): string[] => kept.map((label) => `${term.categorical}[${label}]`);
  const one = (column: number): Factor['levels'][number] => ({ columns: [column], values: [1] });
  switch (contrasts) {
    case 'indicator':
      return { names: named(labels), codes, levels: labels.map((_, k) => one(k)), values: null };
    case 'treatment':
      return {
        names: named(labels.slice(1)),
        codes,
        levels: labels.map((_, k) => (k === 0 ? { columns: [], values: [] } : one(k - 1))),
        values: null,
      };
    case 'sum':
      return {
        names: named(labels.slice(0, last)),
        codes,
        levels: labels.map((_, k) =>
          k < last
            ? one(k)
            : { columns: labels.slice(0, last).map((_, j) => j), values: labels.slice(0, last).map(() => -1) },
        ),
        values: null,
      };
  }
}

/** The product of two coded factors or of a coded factor and a numeric one, with the last factor's columns fastest. */
function product(left: Factor, right: Factor): Factor {
  const width = right.names.length;
  const names = left.names.flatMap((a) => right.names.map((b) => `${a}:${b}`));
  const values =
    left.values && right.values
      ? left.values.map((value, row) => value * right.values![row]!)
      : (left.values ?? right.values);
  if (!left.codes || !right.codes)
    return { names, codes: left.codes ?? right.codes, levels: left.codes ? left.levels : right.levels, values };
  const rightLevels = right.levels.length;
  const codes = left.codes.map((code, row) => code * rightLevels + right.codes![row]!);
  const levels = left.levels.flatMap((a) =>
    right.levels.map((b) => ({
      columns: a.columns.flatMap((i) => b.columns.map((j) => i * width + j)),
      values: a.values.flatMap((x) => b.values.map((y) => x * y)),
    })),
  );
  return { names, codes, levels, values };
}

function factorOf(columns: Columns, term: FixedTerm, length: number): Factor {
  if ('interaction' in term) {
    if (term.interaction.length < 2)
      throw new RangeError(`Cannot build an interaction of ${term.interaction.length} terms; expected at least 2`);
    return term.interaction.map((part) => factorOf(columns, part, length)).reduce(product);
  }
  return 'numeric' in term ? numericFactor(columns, term, length) : categoricalFactor(columns, term, length);
}

function isMatrix(fixed: readonly FixedTerm[] | DesignMatrix): fixed is DesignMatrix {
  return !Array.isArray(fixed);
}

function matrixFactors({ names, columns }: DesignMatrix, length: number): Factor[] {
  if (names.length !== columns.length)
    throw new RangeError(`Cannot use a model matrix with ${columns.length} columns and ${names.length} names`);
  return columns.map((column, j) => {
    if (column.length !== length)
      throw new RangeError(
        `Cannot fit: column "${names[j]!}" of the model matrix has ${column.length} rows; expected ${length}, as the response has`,
      );
    requireFinite(names[j]!, column);
    return { names: [names[j]!], codes: null, levels: [], values: Float64Array.from(column) };
  });
}

/**
 * The model matrix of the fixed part: the intercept, then each term's columns in the order given.
 *
 * @throws {RangeError} when a column is missing, has the wrong length or holds something that is not a number
 */
export function fixedDesign(
  columns: Columns,
  fixed: readonly FixedTerm[] | DesignMatrix,
  { intercept, length }: { readonly intercept: boolean; readonly length: number },
): FixedDesign {
  const factors = isMatrix(fixed)
    ? matrixFactors(fixed, length)
    : [
        ...(intercept ? [{ names: ['(Intercept)'], codes: null, levels: [], values: null }] : []),
        ...fixed.map((term) => factorOf(columns, term, length)),
      ];
  const offsets: number[] = [];
  let total = 0;
  for (const factor of factors) {
    offsets.push(total);
    total += factor.names.length;
  }
  const start = new Int32Array(length + 1);
  for (let row = 0; row < length; row++) {
    let count = 0;
    for (const { codes, levels, values } of factors)
      if (values?.[row] !== 0) count += codes ? levels[codes[row]!]!.columns.length : 1;
    start[row + 1] = start[row]! + count;
  }
  const index = new Int32Array(start[length]!);
  const entries = new Float64Array(start[length]!);
  for (let row = 0, at = 0; row < length; row++) {
    for (let f = 0; f < factors.length; f++) {
      const { codes, levels, values } = factors[f]!;
      const scale = values ? values[row]! : 1;
      if (scale === 0) continue;
      if (!codes) {
        index[at] = offsets[f]!;
        entries[at++] = scale;
        continue;
      }
      const level = levels[codes[row]!]!;
      for (let k = 0; k < level.columns.length; k++) {
        index[at] = offsets[f]! + level.columns[k]!;
        entries[at++] = scale * level.values[k]!;
      }
    }
  }
  return { names: factors.flatMap((factor) => factor.names), start, columns: index, values: entries };
}
