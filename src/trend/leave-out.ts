import type { BlockSums } from '../sources/block-sums.ts';
import { semidefiniteCholesky } from '../statistics/symmetric.ts';
import { cellsOf } from './cell-effects.ts';
import { type ContrastRows, projectSaddle } from './contrast-rows.ts';
import { cellKey, type CentredCovariate, centreCovariates } from './covariate-effects.ts';
import type { ModelTrend, Trend } from './trend.ts';
import { robustWeights, weightChange, type Weights } from './robust-weights.ts';
import { startingWeights } from './starting-weights.ts';
import { finestScatter, type Spread, stringMoments } from './string-moments.ts';
import { type Identified, identify, type RootWeights } from './trend-model.ts';

/** What a forecast of a model's next instrument rests on: estimates in cents and their covariance (nut, rises in order). */
export interface ModelEstimates {
  readonly model: string;
  readonly nut: { readonly estimate: number };
  readonly cells: readonly { readonly string: number; readonly rise: { readonly estimate: number } }[];
  readonly covariance: ModelTrend['covariance'];
}

/** A trend that can be asked what it would be without one instrument. */
export interface LeaveOut {
  /**
   * The estimates of an instrument's model from all other instruments, at the variance components and robust weights of the
   * whole; null when the model has no string with a rise.
   *
   * @param instrument index into `trend.sums.instruments`
   */
  readonly without: (instrument: number) => ModelEstimates | null;
  /** The weights that are held. */
  readonly weights: Weights;
}

/** Rounds of weighing after which it stops, settled or not. */
const mostRounds = 25;

/**
 * Prepares a trend for leaving instruments out one by one, without a fit for each.
 *
 * At fixed variance components the mixed model equations are a sum over instruments (Henderson 1975, Biometrics 31, 423-447),
 * every instrument's and string's own effects eliminated first. Leaving one out takes its part from the sum; what is solved is as
 * small as one model and the terms that all models share. The result is exact for those components and weights, and for the
 * parts that the whole could tell apart.
 *
 * A covariate's or hand's term that only the left-out instrument told of is left out with it, as a fit without it would do.
 */
export function leaveOut(trend: Trend): LeaveOut {
  const frame = frameOf(trend);
  const weights = settledWeights(frame);
  const parts = gather(frame, weights.root);
  return { weights, without: (instrument) => estimatesWithout(frame, parts, weights, instrument) };
}

/** The model that is held, and where each unknown stands: a model's own first, then those that all share, then the response. */
interface Frame {
  readonly sums: BlockSums;
  readonly rows: ContrastRows;
  readonly rowsOf: readonly (readonly number[])[];
  readonly identified: Identified;
  readonly covariates: readonly CentredCovariate[];
  readonly spread: Spread;
  readonly pooling: Trend['pooling'];
  readonly cells: ReturnType<typeof cellsOf>;
  readonly placeOfString: ReadonlyMap<number, number>;
  /** Unweighted columns of the fixed terms: rise, nut, hands, covariates. */
  readonly fixed: readonly Float64Array[];
  /** Number of unknowns of one model (rise, nut, each string), and with those that all share (each string, fixed terms). */
  readonly own: number;
  readonly size: number;
}

function frameOf({ sums, spread, pooling, covariates: fitted }: Trend): Frame {
  const identified = identify(sums);
  const reading = Math.max(spread.reading, finestScatter / 10);
  const rows = projectSaddle(sums, reading);
  const { used } = centreCovariates(
    sums,
    fitted.map(({ name }) => name),
  );
  const rowsOf = sums.instruments.map(() => [] as number[]);
  rows.block.forEach((block, row) => rowsOf[sums.blockInstrument[block]!]!.push(row));
  const strings = [...new Set(sums.blockString)].sort((a, b) => a - b);
  const fixed = fixedColumns(rows, identified, used);
  return {
    sums,
    rows,
    rowsOf,
    identified,
    covariates: used,
    spread: { ...spread, reading, stringRise: identified.instrumentStrings ? spread.stringRise : 0 },
    pooling,
    cells: cellsOf(sums),
    placeOfString: new Map(strings.map((string, at) => [string, at])),
    fixed,
    own: 2 + strings.length,
    size: 2 + 2 * strings.length + fixed.length,
  };
}

function fixedColumns(
  rows: ContrastRows,
  identified: Identified,
  covariates: readonly CentredCovariate[],
): Float64Array[] {
  const contrasts = (by: readonly Float64Array[]): Float64Array[] =>
    by.slice(0, -1).map((own) => own.map((value, row) => value - by.at(-1)![row]!));
  return [
    rows.rise,
    ...(identified.nut ? [rows.nut] : []),
    ...(identified.technicians ? contrasts(rows.riseByTechnician) : []),
    ...(identified.technicianNuts ? contrasts(rows.nutByTechnician) : []),
    ...covariates.map(({ perBlock }) => rows.rise.map((rise, row) => rise * perBlock[rows.block[row]!]!)),
  ];
}

/** Weights and estimates in turn at the trend's own components, begun as the fit begins. */
function settledWeights(frame: Frame): Weights {
  const { sums, rows, spread } = frame;
  let weights = startingWeights(sums, projectSaddle(sums));
  if (spread.reading <= finestScatter) return weights;
  for (let round = 1; round <= mostRounds; round++) {
    const residual = residuals(frame, gather(frame, weights.root));
    const next = robustWeights(sums, stringMoments(sums, rows, residual), spread);
    const change = weightChange(weights, next);
    weights = next;
    if (change < 1e-3) break;
  }
  return weights;
}

/** Coefficients of a row: of its model's own unknowns, of the shared ones, and its response, all times `factor`. */
function fillRow(frame: Frame, row: number, factor: number, target: Float64Array, from: number): void {
  const { rows, sums, pooling, placeOfString, fixed, own, size } = frame;
  const place = placeOfString.get(sums.blockString[rows.block[row]!]!)!;
  const [rise, nut] = [rows.rise[row]! * factor, rows.nut[row]! * factor];
  target.fill(0, from, from + size + 1);
  target[from] = pooling.model * rise;
  target[from + 1] = pooling.modelNut * nut;
  target[from + 2 + place] = pooling.modelString * rise;
  target[from + own + place] = pooling.string * rise;
  const firstFixed = from + size - fixed.length;
  for (let at = 0; at < fixed.length; at++) target[firstFixed + at] = fixed[at]![row]! * factor;
  target[from + size] = rows.response[row]! * factor;
}

/** Square matrices of `size + 1` unknowns, the response last. */
interface Parts {
  readonly ofInstrument: readonly Float64Array[];
  /** Per model: its instruments' sum and the unit variance of its own unknowns. */
  readonly ofModel: readonly Float64Array[];
  /** The same with the model's own unknowns eliminated, zeros in their place. */
  readonly reduced: readonly Float64Array[];
  /** Sum of `reduced` over models and the unit variance of the strings. */
  readonly total: Float64Array;
}

function gather(frame: Frame, root: RootWeights): Parts {
  const { sums, own, size, placeOfString } = frame;
  const width = size + 1;
  const ofInstrument = sums.instruments.map((_, instrument) => instrumentPart(frame, root, instrument));
  const ofModel = sums.models.map(() => {
    const part = new Float64Array(width * width);
    for (let at = 0; at < own; at++) part[at * width + at] = 1;
    return part;
  });
  ofInstrument.forEach((part, instrument) => addTo(ofModel[sums.modelOfInstrument[instrument]!]!, part, 1));
  const reduced = ofModel.map((part) => {
    const left = part.slice();
    eliminate(left, width, own);
    return left;
  });
  const total = new Float64Array(width * width);
  for (let at = own; at < own + placeOfString.size; at++) total[at * width + at] = 1;
  for (const part of reduced) addTo(total, part, 1);
  return { ofInstrument, ofModel, reduced, total };
}

/** Cross-products of one instrument's rows over the reading variance, its own effects and its strings' eliminated. */
function instrumentPart(frame: Frame, root: RootWeights, instrument: number): Float64Array {
  const { sums, rows, rowsOf, spread, size } = frame;
  const strings = [...new Set(rowsOf[instrument]!.map((row) => sums.blockString[rows.block[row]!]!))];
  const inner = 1 + 2 * strings.length;
  const width = inner + size + 1;
  const products = new Float64Array(width * width);
  for (let at = 0; at < inner; at++) products[at * width + at] = 1;
  const line = new Float64Array(width);
  for (const row of rowsOf[instrument]!) {
    const block = rows.block[row]!;
    const weight = root.block[block]! / spread.reading;
    const own = 1 + 2 * strings.indexOf(sums.blockString[block]!);
    line.fill(0, 0, inner);
    line[0] = (spread.instrumentRise * rows.rise[row]! * weight) / root.instrument[instrument]!;
    line[own] = (spread.stringRise * rows.rise[row]!) / spread.reading;
    line[own + 1] = (spread.stringNut * rows.nut[row]!) / spread.reading;
    fillRow(frame, row, weight, line, inner);
    for (let i = 0; i < width; i++)
      if (line[i] !== 0) for (let j = 0; j < width; j++) products[i * width + j]! += line[i]! * line[j]!;
  }
  eliminate(products, width, inner);
  const part = new Float64Array((size + 1) ** 2);
  for (let i = inner; i < width; i++)
    part.set(products.subarray(i * width + inner, (i + 1) * width), (i - inner) * (size + 1));
  return part;
}

function addTo(sum: Float64Array, part: Float64Array, times: 1 | -1): void {
  for (let at = 0; at < sum.length; at++) sum[at]! += times * part[at]!;
}

/** Eliminates the first `count` unknowns of a symmetric positive definite block, leaving zeros in their rows and columns. */
function eliminate(matrix: Float64Array, width: number, count: number): void {
  for (let p = 0; p < count; p++) {
    const pivot = matrix[p * width + p]!;
    for (let i = p + 1; i < width; i++) {
      const factor = matrix[i * width + p]! / pivot;
      if (factor !== 0) for (let j = p + 1; j < width; j++) matrix[i * width + j]! -= factor * matrix[p * width + j]!;
      matrix[i * width + p] = 0;
    }
    matrix.fill(0, p * width, (p + 1) * width);
  }
}

/** The equations of one model and the shared terms, without one of its instruments (or with all), factored. */
interface Equations {
  /** `T^-1 a` for coefficients a, T T' being the equations; unknowns that nothing tells of count as zero. */
  readonly half: (coefficients: Float64Array) => Float64Array;
  /** `T^-1` of the right-hand side. */
  readonly right: Float64Array;
}

function equationsOf({ own, size }: Frame, parts: Parts, model: number, without: number | null): Equations {
  const width = size + 1;
  const matrix = parts.total.slice();
  addTo(matrix, parts.reduced[model]!, -1);
  addTo(matrix, parts.ofModel[model]!, 1);
  const whole = Float64Array.from({ length: size }, (_, at) => matrix[at * width + at]!);
  if (without !== null) addTo(matrix, parts.ofInstrument[without]!, -1);
  const square = new Float64Array(size * size);
  const isKnown = Array.from(whole, (all, at) => at < own || matrix[at * width + at]! > 1e-9 * all);
  for (let i = 0; i < size; i++)
    if (isKnown[i]) for (let j = 0; j < size; j++) if (isKnown[j]) square[i * size + j] = matrix[i * width + j]!;
  const triangle = semidefiniteCholesky(square, size, 1e-10);
  const half = (coefficients: Float64Array): Float64Array => {
    const z = coefficients.slice();
    for (let i = 0; i < size; i++) {
      const pivot = triangle[i * size + i]!;
      for (let k = 0; k < i; k++) z[i]! -= triangle[i * size + k]! * z[k]!;
      z[i] = pivot > 0 ? z[i]! / pivot : 0;
    }
    return z;
  };
  return { half, right: half(Float64Array.from({ length: size }, (_, at) => matrix[at * width + size]!)) };
}

/** Response less the part of models, hands and covariates, per row. */
function residuals(frame: Frame, parts: Parts): Float64Array {
  const { sums, rows, rowsOf, size } = frame;
  const equations = sums.models.map((_, model) => equationsOf(frame, parts, model, null));
  const residual = rows.response.slice();
  const line = new Float64Array(size + 1);
  rowsOf.forEach((own, instrument) => {
    const { half, right } = equations[sums.modelOfInstrument[instrument]!]!;
    for (const row of own) {
      fillRow(frame, row, 1, line, 0);
      residual[row]! -= dot(half(line.subarray(0, size)), right);
    }
  });
  return residual;
}

function estimatesWithout(frame: Frame, parts: Parts, weights: Weights, instrument: number): ModelEstimates | null {
  const { sums, identified, pooling, covariates, placeOfString, fixed, own, size } = frame;
  const model = sums.modelOfInstrument[instrument]!;
  const cells = frame.cells.get(model);
  if (!cells) return null;
  const { half, right } = equationsOf(frame, parts, model, instrument);
  const firstFixed = size - fixed.length;
  const usual = usualCovariates(frame, model, instrument);
  const nut = new Float64Array(size);
  if (identified.nut) {
    nut[1] = pooling.modelNut;
    nut[firstFixed + 1] = 1;
  }
  const rises = cells.map(({ string }) => {
    const rise = new Float64Array(size);
    const place = placeOfString.get(string)!;
    rise[0] = pooling.model;
    rise[2 + place] = pooling.modelString;
    rise[own + place] = pooling.string;
    rise[firstFixed] = 1;
    covariates.forEach((_, at) => (rise[size - covariates.length + at] = usual(at, string)));
    return rise;
  });
  const halves = [nut, ...rises].map(half);
  const estimates = halves.map((one) => dot(one, right));
  return {
    model: sums.models[model]!,
    nut: { estimate: estimates[0]! },
    cells: cells.map(({ string }, at) => ({ string, rise: { estimate: estimates[at + 1]! } })),
    covariance: halves.map((a) => halves.map((b) => weights.varianceFactor * dot(a, b))),
  };
}

/** Mean of a covariate over the blocks of one model's string without one instrument; 0, the shop's mean, where none is left. */
function usualCovariates(
  { sums, covariates }: Frame,
  model: number,
  without: number,
): (covariate: number, string: number) => number {
  const totals = covariates.map(() => new Map<number, { sum: number; count: number }>());
  if (covariates.length > 0)
    sums.blockInstrument.forEach((instrument, block) => {
      if (instrument === without || sums.modelOfInstrument[instrument] !== model) return;
      covariates.forEach(({ perBlock }, at) => {
        const key = cellKey(model, sums.blockString[block]!);
        const total = totals[at]!.get(key) ?? { sum: 0, count: 0 };
        totals[at]!.set(key, { sum: total.sum + perBlock[block]!, count: total.count + 1 });
      });
    });
  return (covariate, string) => {
    const total = totals[covariate]!.get(cellKey(model, string));
    return total ? total.sum / total.count : 0;
  };
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let at = 0; at < a.length; at++) sum += a[at]! * b[at]!;
  return sum;
}
