import type { FixedDesign } from './fixed-design.ts';

/**
 * The fixed part in coordinates fit for computing: dependent columns dropped, columns that are mostly non-zero centred
 * (where a constant column can take up the mean) and all scaled to unit mean square, sparse columns first; the response
 * replaced by its least-squares residual, scaled to unit mean square.
 */
export interface FixedBasis {
  /** For each inner column its position in the design. */
  readonly kept: readonly number[];
  /** Names of the columns that are linear combinations of columns before them, and so have no coefficient of their own. */
  readonly dropped: readonly string[];
  readonly start: Int32Array;
  readonly columns: Int32Array;
  readonly values: Float64Array;
  readonly response: Float64Array;
  readonly responseScale: number;
  /** Log-determinant of the design's cross-products less that of the inner ones. */
  readonly logDeterminant: number;
  /** Coefficients of the design's kept columns, in inner order, from inner ones. */
  toCoefficients(inner: ArrayLike<number>): Float64Array;
  /** The inner vector `k'` with `k' inner = k beta` but for the least-squares start, which `toCoefficients` adds. */
  toInner(k: ArrayLike<number>): Float64Array;
}

/** A column is dropped when less than this part of its squared length is new. */
const newPart = 1e-11;

/** Cholesky factor, row by row, of the columns of a Gram matrix that are independent of those before them. */
function independentColumns(gram: Float64Array, p: number): { kept: number[]; factor: Float64Array[] } {
  const kept: number[] = [];
  const factor: Float64Array[] = [];
  for (let j = 0; j < p; j++) {
    const row = new Float64Array(kept.length + 1);
    let rest = gram[j * p + j]!;
    for (let k = 0; k < kept.length; k++) {
      const other = factor[k]!;
      let sum = gram[j * p + kept[k]!]!;
      for (let l = 0; l < k; l++) sum -= row[l]! * other[l]!;
      row[k] = sum / other[k]!;
      rest -= row[k]! * row[k]!;
    }
    if (!(rest > newPart * gram[j * p + j]!)) continue;
    row[kept.length] = Math.sqrt(rest);
    kept.push(j);
    factor.push(row);
  }
  return { kept, factor };
}

function solve(factor: readonly Float64Array[], right: Float64Array): Float64Array {
  const x = right.slice();
  for (let i = 0; i < x.length; i++) {
    for (let k = 0; k < i; k++) x[i]! -= factor[i]![k]! * x[k]!;
    x[i]! /= factor[i]![i]!;
  }
  for (let i = x.length - 1; i >= 0; i--) {
    for (let k = i + 1; k < x.length; k++) x[i]! -= factor[k]![i]! * x[k]!;
    x[i]! /= factor[i]![i]!;
  }
  return x;
}

/** Centre, scale and density of each column of the design, and which column is constant (-1 for none). */
function columnFrames(design: FixedDesign, weights: Float64Array | null, length: number) {
  const p = design.names.length;
  const count = new Int32Array(p);
  const sum = new Float64Array(p);
  const squares = new Float64Array(p);
  const low = new Float64Array(p).fill(Infinity);
  const high = new Float64Array(p).fill(-Infinity);
  let total = 0;
  for (let row = 0; row < length; row++) {
    const w = weights ? weights[row]! : 1;
    total += w;
    for (let at = design.start[row]!; at < design.start[row + 1]!; at++) {
      const j = design.columns[at]!;
      const x = design.values[at]!;
      count[j]!++;
      sum[j]! += w * x;
      if (x < low[j]!) low[j] = x;
      if (x > high[j]!) high[j] = x;
    }
  }
  const constant = count.findIndex((filled, j) => filled === length && low[j] === high[j]);
  const isDense = Array.from(count, (filled) => filled > length / 2);
  const centre = Float64Array.from(sum, (s, j) => (constant >= 0 && isDense[j] && j !== constant ? s / total : 0));
  const seen = new Float64Array(p);
  for (let row = 0; row < length; row++) {
    const w = weights ? weights[row]! : 1;
    for (let at = design.start[row]!; at < design.start[row + 1]!; at++) {
      const j = design.columns[at]!;
      const x = design.values[at]! - centre[j]!;
      squares[j]! += w * x * x;
      seen[j]! += w;
    }
  }
  for (let j = 0; j < p; j++) squares[j]! += (total - seen[j]!) * centre[j]! ** 2;
  // A column without variation beyond rounding keeps scale 1 and falls to the rank check.
  const scale = squares.map((square, j) =>
    square > 1e-28 * total * Math.max(low[j]! ** 2, high[j]! ** 2) ? Math.sqrt(square / total) : 0,
  );
  return { constant, isDense, centre, scale, total };
}

/** The inner columns of every row: dense columns complete, `order[j]` the inner place of column j or -1. */
function innerRows(
  design: FixedDesign,
  length: number,
  {
    order,
    isDense,
    centre,
    scale,
  }: { order: Int32Array; isDense: boolean[]; centre: Float64Array; scale: Float64Array },
) {
  const dense = isDense.flatMap((is, j) => (is && order[j]! >= 0 ? [j] : [])).sort((a, b) => order[a]! - order[b]!);
  const denseAt = new Int32Array(order.length).fill(-1);
  dense.forEach((j, k) => (denseAt[j] = k));
  const start = new Int32Array(length + 1);
  for (let row = 0; row < length; row++) {
    let count = dense.length;
    for (let at = design.start[row]!; at < design.start[row + 1]!; at++) {
      const j = design.columns[at]!;
      if (!isDense[j] && order[j]! >= 0) count++;
    }
    start[row + 1] = start[row]! + count;
  }
  const columns = new Int32Array(start[length]!);
  const values = new Float64Array(start[length]!);
  for (let row = 0, to = 0; row < length; row++) {
    const tail = start[row + 1]! - dense.length;
    for (let k = 0; k < dense.length; k++) {
      const j = dense[k]!;
      columns[tail + k] = order[j]!;
      values[tail + k] = -centre[j]! / scale[j]!;
    }
    for (let at = design.start[row]!; at < design.start[row + 1]!; at++) {
      const j = design.columns[at]!;
      if (order[j]! < 0) continue;
      if (isDense[j]) values[tail + denseAt[j]!]! += design.values[at]! / scale[j]!;
      else {
        columns[to] = order[j]!;
        values[to++] = design.values[at]! / scale[j]!;
      }
    }
    to = start[row + 1]!;
  }
  return { start, columns, values };
}

/**
 * Chooses the inner coordinates of the fixed part for a response and weights (null for equal ones).
 *
 * @throws {RangeError} when the fixed part already explains the response exactly, a constant response above all
 */
export function fixedBasis(
  design: FixedDesign,
  response: Float64Array,
  weights: Float64Array | null,
  extraSquares: number,
): FixedBasis {
  const length = response.length;
  const p = design.names.length;
  const frame = columnFrames(design, weights, length);
  const { isDense, centre, scale, constant, total } = frame;
  // First in the design's own order, to find dependent columns: a column is dropped for those that stand before it.
  const usable = Array.from(scale, (s, j) => (s > 0 ? j : -1)).filter((j) => j >= 0);
  const natural = new Int32Array(p).fill(-1);
  [...usable.filter((j) => !isDense[j]), ...usable.filter((j) => isDense[j])].forEach((j, k) => (natural[j] = k));
  const all = innerRows(design, length, { order: natural, isDense, centre, scale });
  const size = usable.length;
  const gram = new Float64Array(size * size);
  for (let row = 0; row < length; row++) {
    const w = weights ? weights[row]! : 1;
    const to = all.start[row + 1]!;
    for (let a = all.start[row]!; a < to; a++) {
      const wx = w * all.values[a]!;
      const base = all.columns[a]! * size;
      for (let b = all.start[row]!; b <= a; b++) gram[base + all.columns[b]!]! += wx * all.values[b]!;
    }
  }
  const ordered = new Float64Array(size * size);
  usable.forEach((i, a) => {
    usable.forEach((j, b) => {
      const [high, low] = natural[i]! > natural[j]! ? [natural[i]!, natural[j]!] : [natural[j]!, natural[i]!];
      ordered[a * size + b] = gram[high * size + low]!;
    });
  });
  const { kept: keptUsable, factor } = independentColumns(ordered, size);
  const independent = keptUsable.map((a) => usable[a]!);
  const kept = [...independent.filter((j) => !isDense[j]), ...independent.filter((j) => isDense[j])];
  const order = new Int32Array(p).fill(-1);
  kept.forEach((j, k) => (order[j] = k));
  const rows = kept.length === size ? all : innerRows(design, length, { order, isDense, centre, scale });

  // The response's least-squares residual, about its mean first where a constant can take it up.
  const mean = constant >= 0 ? response.reduce((sum, y, row) => sum + y * (weights ? weights[row]! : 1), 0) / total : 0;
  const right = new Float64Array(kept.length);
  for (let row = 0; row < length; row++) {
    const wy = (weights ? weights[row]! : 1) * (response[row]! - mean);
    for (let at = rows.start[row]!; at < rows.start[row + 1]!; at++) right[rows.columns[at]!]! += wy * rows.values[at]!;
  }
  const solved = solve(
    factor,
    Float64Array.from(independent, (j) => right[order[j]!]!),
  );
  const first = new Float64Array(kept.length);
  independent.forEach((j, k) => (first[order[j]!] = solved[k]!));
  const residual = new Float64Array(length);
  let squares = extraSquares;
  let size2 = extraSquares;
  for (let row = 0; row < length; row++) {
    let rest = response[row]! - mean;
    for (let at = rows.start[row]!; at < rows.start[row + 1]!; at++)
      rest -= rows.values[at]! * first[rows.columns[at]!]!;
    residual[row] = rest;
    const w = weights ? weights[row]! : 1;
    squares += w * rest * rest;
    size2 += w * response[row]! * response[row]!;
  }
  if (!(squares > 1e-26 * size2))
    throw new RangeError(
      constant >= 0 && response.every((y) => y === response[0])
        ? `Cannot fit: the response is ${response[0]!} in every row; expected one that varies`
        : 'Cannot fit: the fixed terms explain the response exactly; expected some variation beyond them',
    );
  const responseScale = Math.sqrt(squares / total);
  for (let row = 0; row < length; row++) residual[row]! /= responseScale;
  const constantAt = constant >= 0 ? order[constant]! : -1;
  return {
    kept,
    dropped: design.names.filter((_, j) => order[j]! < 0),
    ...rows,
    response: residual,
    responseScale,
    logDeterminant: kept.reduce((sum, j) => sum + 2 * Math.log(scale[j]!), 0),
    toCoefficients(inner) {
      const beta = new Float64Array(kept.length);
      kept.forEach((j, k) => (beta[k] = (first[k]! + responseScale * inner[k]!) / scale[j]!));
      if (constantAt >= 0) {
        const unit = design.values[design.start[0]! + firstEntry(design, constant)]!;
        kept.forEach((j, k) => {
          if (k !== constantAt) beta[constantAt]! -= (centre[j]! * beta[k]!) / unit;
        });
        beta[constantAt]! += mean / unit;
      }
      return beta;
    },
    toInner(k) {
      const inner = new Float64Array(kept.length);
      const unit = constantAt >= 0 ? design.values[design.start[0]! + firstEntry(design, constant)]! : 1;
      kept.forEach((j, at) => {
        const shift = constantAt >= 0 && at !== constantAt ? (centre[j]! * k[constantAt]!) / unit : 0;
        inner[at] = (k[at]! - shift) / scale[j]!;
      });
      return inner;
    },
  };
}

function firstEntry(design: FixedDesign, column: number): number {
  return design.columns.subarray(design.start[0], design.start[1]).indexOf(column);
}
