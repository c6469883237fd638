import { halfWidth, twoSidedP } from './distributions.ts';
import { addProduct } from './double-double.ts';

/** A regression: one array a column, each as long as the response; an intercept is a column of ones. */
export interface LinearProblem {
  readonly response: ArrayLike<number>;
  readonly names: readonly string[];
  readonly columns: readonly ArrayLike<number>[];
  readonly weights?: ArrayLike<number>;
}

export interface LinearEstimate {
  readonly term: string;
  readonly estimate: number;
  readonly standardError: number;
  readonly t: number;
  readonly p: number;
  readonly low: number;
  readonly high: number;
}

/** A column that is a linear combination of columns before it, and which ones those are. */
export interface DroppedColumn {
  readonly term: string;
  readonly combinationOf: readonly string[];
}

export interface LinearFit {
  readonly coefficients: readonly LinearEstimate[];
  /** Covariance matrix of the coefficients, in their order. */
  readonly covariance: readonly Float64Array[];
  readonly dropped: readonly DroppedColumn[];
  /** Residual standard deviation: square root of the weighted residual sum of squares over `df`. */
  readonly sigma: number;
  readonly df: number;
  readonly residualSquares: number;
  /** 1 - residual over total sum of squares, the latter about the mean where a constant column is fitted, else about 0. */
  readonly rSquared: number;
  readonly fitted: Float64Array;
  readonly residuals: Float64Array;
  /** Diagonal of the hat matrix. */
  readonly leverages: Float64Array;
}

/** A column is dropped when what is new in it is shorter than this part of its length. */
const newPart = 1e-13;

/** Householder QR of columns of unit length; each reflector is kept below the diagonal of its column. */
interface Decomposition {
  /** Columns in the order they were taken, dropped ones last. */
  readonly order: readonly number[];
  readonly rank: number;
  /** Column by column: reflector v (from the diagonal down), with r above it. */
  readonly work: readonly Float64Array[];
  readonly diagonal: Float64Array;
}

function lengthFrom(column: Float64Array, from: number): number {
  let largest = 0;
  for (let i = from; i < column.length; i++) largest = Math.max(largest, Math.abs(column[i]!));
  if (largest === 0) return 0;
  let sum = 0;
  for (let i = from; i < column.length; i++) sum += (column[i]! / largest) ** 2;
  return largest * Math.sqrt(sum);
}

/** Applies the reflector stored in `v` from row k to a vector. */
function reflect(v: Float64Array, k: number, target: Float64Array): void {
  let along = 0;
  for (let i = k; i < v.length; i++) along += v[i]! * target[i]!;
  along *= 2;
  for (let i = k; i < v.length; i++) target[i]! -= along * v[i]!;
}

/**
 * Takes the columns in order and moves one to the end when it is a combination of those before it.
 * Golub & Van Loan, Matrix Computations, 4th ed., sections 5.2 and 5.4.
 */
function decompose(columns: readonly Float64Array[]): Decomposition {
  const n = columns[0]?.length ?? 0;
  const order: number[] = [];
  const dependent: number[] = [];
  const work = new Map<number, Float64Array>();
  const diagonal: number[] = [];
  columns.forEach((column, j) => {
    const a = column.slice();
    order.forEach((taken, k) => reflect(work.get(taken)!, k, a));
    const k = order.length;
    const length = k < n ? lengthFrom(a, k) : 0;
    work.set(j, a);
    if (!(length > newPart)) {
      dependent.push(j);
      return;
    }
    const pivot = a[k]! > 0 ? -length : length;
    diagonal.push(pivot);
    a[k]! -= pivot;
    const scale = lengthFrom(a, k);
    for (let i = k; i < n; i++) a[i]! /= scale;
    order.push(j);
  });
  const all = [...order, ...dependent];
  return { order: all, rank: order.length, work: all.map((j) => work.get(j)!), diagonal: Float64Array.from(diagonal) };
}

function backSolve({ work, diagonal }: Decomposition, right: ArrayLike<number>, size: number): Float64Array {
  const x = Float64Array.from({ length: size }, (_, i) => right[i]!);
  for (let i = size - 1; i >= 0; i--) {
    for (let k = i + 1; k < size; k++) x[i]! -= work[k]![i]! * x[k]!;
    x[i]! /= diagonal[i]!;
  }
  return x;
}

function transposeSolve({ work, diagonal }: Decomposition, right: ArrayLike<number>, size: number): Float64Array {
  const x = Float64Array.from({ length: size }, (_, i) => right[i]!);
  for (let i = 0; i < size; i++) {
    for (let k = 0; k < i; k++) x[i]! -= work[i]![k]! * x[k]!;
    x[i]! /= diagonal[i]!;
  }
  return x;
}

/** Columns of unit scale, and where they are known to more digits than a number holds, the rest of each value. */
interface Columns {
  readonly high: readonly Float64Array[];
  readonly low: readonly Float64Array[] | null;
}

/**
 * Solves the augmented system `r + A x = b, A' r = c` by QR and refines it with residuals carried to 32 digits:
 * Björck (1967), BIT 7, 257-278; Higham (2002), Accuracy and Stability of Numerical Algorithms, section 20.5. With c = 0
 * x is the least-squares solution and r its residual; with b = 0, x is `-(A'A)^-1 c`.
 */
function refinedSolution(
  qr: Decomposition,
  { high, low }: Columns,
  { b, c }: { readonly b: Float64Array; readonly c: Float64Array },
): { readonly x: Float64Array; readonly r: Float64Array } {
  const n = b.length;
  const p = qr.rank;
  const taken = qr.order.slice(0, p);
  const x = new Float64Array(p);
  const r = new Float64Array(n);
  for (let round = 0; round < 4; round++) {
    const f = new Float64Array(n);
    const g = new Float64Array(p);
    for (let i = 0; i < n; i++) {
      const sum = { high: b[i]!, low: 0 };
      addProduct(sum, -1, r[i]!);
      for (let k = 0; k < p; k++) {
        addProduct(sum, -high[taken[k]!]![i]!, x[k]!);
        if (low) sum.low -= low[taken[k]!]![i]! * x[k]!;
      }
      f[i] = sum.high + sum.low;
    }
    for (let k = 0; k < p; k++) {
      const sum = { high: c[k]!, low: 0 };
      for (let i = 0; i < n; i++) {
        addProduct(sum, -high[taken[k]!]![i]!, r[i]!);
        if (low) sum.low -= low[taken[k]!]![i]! * r[i]!;
      }
      g[k] = sum.high + sum.low;
    }
    for (let k = 0; k < p; k++) reflect(qr.work[k]!, k, f);
    const h = transposeSolve(qr, g, p);
    const step = backSolve(
      qr,
      h.map((value, k) => f[k]! - value),
      p,
    );
    for (let k = 0; k < p; k++) f[k] = h[k]!;
    for (let k = p - 1; k >= 0; k--) reflect(qr.work[k]!, k, f);
    for (let k = 0; k < p; k++) x[k]! += step[k]!;
    for (let i = 0; i < n; i++) r[i]! += f[i]!;
  }
  return { x, r };
}

/** The inverse of A'A, column by column; refined where the columns are close to dependent. */
function inverseCrossProducts(qr: Decomposition, columns: Columns, n: number): Float64Array[] {
  const p = qr.rank;
  const sizes = qr.diagonal.map(Math.abs);
  const unit = (k: number, value: number): Float64Array => {
    const vector = new Float64Array(p);
    vector[k] = value;
    return vector;
  };
  if (Math.max(...sizes) > 1e4 * Math.min(...sizes))
    return Array.from(
      { length: p },
      (_, k) => refinedSolution(qr, columns, { b: new Float64Array(n), c: unit(k, -1) }).x,
    );
  return Array.from({ length: p }, (_, k) => backSolve(qr, transposeSolve(qr, unit(k, 1), p), p));
}

function requireProblem({ response, names, columns, weights }: LinearProblem): void {
  const n = response.length;
  if (names.length !== columns.length)
    throw new RangeError(`Cannot fit: ${columns.length} columns with ${names.length} names`);
  const all: [string, ArrayLike<number>][] = [['the response', response]];
  names.forEach((name, j) => all.push([`column "${name}"`, columns[j]!]));
  if (weights) all.push(['the weights', weights]);
  for (const [name, values] of all) {
    if (values.length !== n) throw new RangeError(`Cannot fit: ${name} has ${values.length} rows; expected ${n}`);
    for (let row = 0; row < n; row++)
      if (!Number.isFinite(values[row]))
        throw new RangeError(`Cannot fit: ${name} holds ${values[row]!} in row ${row + 1}; expected a finite number`);
  }
  for (let row = 0; weights && row < n; row++)
    if (!(weights[row]! > 0))
      throw new RangeError(`Cannot fit: the weight in row ${row + 1} is ${weights[row]!}; expected more than 0`);
}

/**
 * Linear regression by least squares: Householder QR on columns scaled to unit length, refined in extended precision.
 *
 * Columns that are linear combinations of columns before them are dropped, and named with those columns.
 *
 * @param level level of the intervals, default 0.95
 * @throws {RangeError} when lengths differ, a value is not finite or a weight is not positive (rows counted from 1), or
 * there are no more rows than independent columns
 */
export function fitLinear(problem: LinearProblem, level = 0.95): LinearFit {
  return solveLinear(problem, null, level);
}

/**
 * Polynomial regression, coefficients of `1, x, x^2, ...`. The powers are carried to 32 digits, so that high degrees lose
 * nothing to the rounding of their columns.
 *
 * @throws {RangeError} as {@link fitLinear}
 */
export function fitPolynomial(
  {
    x,
    response,
    degree,
  }: { readonly x: ArrayLike<number>; readonly response: ArrayLike<number>; readonly degree: number },
  level = 0.95,
): LinearFit {
  const high = [Float64Array.from(x, () => 1)];
  const low = [new Float64Array(x.length)];
  for (let power = 1; power <= degree; power++) {
    const [h, l] = [new Float64Array(x.length), new Float64Array(x.length)];
    for (let i = 0; i < x.length; i++) {
      const sum = { high: 0, low: 0 };
      addProduct(sum, high[power - 1]![i]!, x[i]!);
      sum.low += low[power - 1]![i]! * x[i]!;
      h[i] = sum.high + sum.low;
      l[i] = sum.high - h[i]! + sum.low;
    }
    high.push(h);
    low.push(l);
  }
  const names = high.map((_, power) => (power === 0 ? '1' : power === 1 ? 'x' : `x^${power}`));
  return solveLinear({ response, names, columns: high }, low, level);
}

function solveLinear(problem: LinearProblem, lowParts: readonly Float64Array[] | null, level: number): LinearFit {
  requireProblem(problem);
  const { response, names, columns, weights } = problem;
  const n = response.length;
  const root = Float64Array.from({ length: n }, (_, i) => Math.sqrt(weights ? weights[i]! : 1));
  const weighted = columns.map((column) => root.map((w, i) => w * column[i]!));
  // Powers of two, so that scaling is exact.
  const scales = weighted.map((column) => 2 ** Math.round(Math.log2(lengthFrom(column, 0) || 1)));
  const scaled = weighted.map((column, j) => column.map((x) => x / scales[j]!));
  const qr = decompose(scaled);
  const p = qr.rank;
  if (n <= p)
    throw new RangeError(`Cannot fit ${p} coefficients to ${n} rows and estimate their spread; expected more rows`);
  const b = root.map((w, i) => w * response[i]!);
  const parts: Columns = {
    high: scaled,
    low: lowParts?.map((column, j) => column.map((value) => value / scales[j]!)) ?? null,
  };
  const { x, r } = refinedSolution(qr, parts, { b, c: new Float64Array(p) });
  const residualSquares = r.reduce((sum, value) => sum + value * value, 0);
  const df = n - p;
  const sigma = Math.sqrt(residualSquares / df);
  const place = qr.order.slice(0, p);
  const inReading = place.map((_, k) => k).sort((a, c) => place[a]! - place[c]!);
  const inverse = inverseCrossProducts(qr, parts, n);
  const covariance = inReading.map((a) =>
    Float64Array.from(
      inReading,
      (c) => (((inverse[a]![c]! + inverse[c]![a]!) / 2) * sigma * sigma) / scales[place[a]!]! / scales[place[c]!]!,
    ),
  );
  const coefficients = inReading.map((k, at): LinearEstimate => {
    const estimate = x[k]! / scales[place[k]!]!;
    const standardError = Math.sqrt(covariance[at]![at]!);
    const t = estimate / standardError;
    const reach = halfWidth(level, df) * standardError;
    return {
      term: names[place[k]!]!,
      estimate,
      standardError,
      t,
      p: twoSidedP(t, df),
      low: estimate - reach,
      high: estimate + reach,
    };
  });
  const dropped = qr.order.slice(p).map((j, extra): DroppedColumn => {
    const shares = backSolve(qr, qr.work[p + extra]!, p);
    return {
      term: names[j]!,
      combinationOf: inReading.flatMap((k) => (Math.abs(shares[k]!) > 1e-9 ? [names[place[k]!]!] : [])),
    };
  });
  const leverages = new Float64Array(n);
  for (let k = 0; k < p; k++) {
    const unit = new Float64Array(n);
    unit[k] = 1;
    for (let l = p - 1; l >= 0; l--) reflect(qr.work[l]!, l, unit);
    for (let i = 0; i < n; i++) leverages[i]! += unit[i]! * unit[i]!;
  }
  const isConstant = place.some(
    (j) => columns[j]![0] !== 0 && Array.prototype.every.call(columns[j]!, (value) => value === columns[j]![0]),
  );
  return {
    coefficients,
    covariance,
    dropped,
    sigma,
    df,
    residualSquares,
    rSquared: 1 - residualSquares / totalSquares(response, weights, isConstant),
    fitted: Float64Array.from(response, (y, i) => y - r[i]! / root[i]!),
    residuals: r.map((value, i) => value / root[i]!),
    leverages,
  };
}

function totalSquares(response: ArrayLike<number>, weights: ArrayLike<number> | undefined, aboutMean: boolean): number {
  let [total, sum] = [0, 0];
  for (let i = 0; i < response.length; i++) {
    const w = weights ? weights[i]! : 1;
    total += w;
    sum += w * response[i]!;
  }
  const mean = aboutMean ? sum / total : 0;
  let squares = 0;
  for (let i = 0; i < response.length; i++) squares += (weights ? weights[i]! : 1) * (response[i]! - mean) ** 2;
  return squares;
}
