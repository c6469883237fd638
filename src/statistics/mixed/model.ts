import { numericColumn, positiveColumn } from './columns.ts';
import { criterionOf, type Criterion } from './criterion.ts';
import { crossProducts, type CrossProducts } from './cross-products.ts';
import type { Columns, MixedDescription } from './description.ts';
import { engineOf, type Engine } from './engine.ts';
import type { Factor } from './factor.ts';
import { fixedBasis, type FixedBasis } from './fixed-basis.ts';
import { fixedDesign, type FixedDesign } from './fixed-design.ts';
import { randomDesign, type Grouping } from './random-design.ts';

export type Method = 'REML' | 'ML';

/** A model's data as read from its columns: what stays the same when only the response changes. */
export interface ModelData {
  readonly response: Float64Array;
  /** Weight of each row's response: the given weight times the number of repeats; null when all are one. */
  readonly weights: Float64Array | null;
  readonly design: FixedDesign;
  readonly groupings: readonly Grouping[];
  /** Number of readings, repeats counted. */
  readonly observations: number;
  /** Weighted sum of squares about the rows' own means, where rows stand for repeats; else 0. */
  readonly withinSquares: number;
  readonly sumLogWeights: number;
}

/** A model made ready to be evaluated. */
export interface Model {
  readonly data: ModelData;
  readonly method: Method;
  readonly basis: FixedBasis;
  readonly effectScale: readonly Float64Array[];
  readonly products: CrossProducts;
  /** The factor of all levels, prepared when first asked for. */
  readonly factor: () => Factor;
  /** What evaluates the criterion, on the factor itself or on a smaller one. */
  readonly engine: Engine;
  readonly criterion: Criterion;
  readonly degreesOfFreedom: number;
  /** What turns the inner criterion's log-determinants into those of the design as given. */
  readonly logScale: number;
}

function requireIdentifiable(groupings: readonly Grouping[], observations: number): void {
  for (const { name, labels, block } of groupings) {
    // Independent effects of one grouping are told from the residuals one by one, as if each were a grouping of its own.
    const size = Math.max(...block.map((one) => block.filter((other) => other === one).length));
    if (labels.length < 2)
      throw new RangeError(
        `Cannot estimate a variance between levels of ${name}: every row has the level "${labels[0] ?? ''}"; expected at least 2 levels`,
      );
    if (labels.length * size >= observations)
      throw new RangeError(
        `Cannot tell ${labels.length * size} random effects of ${name} (${labels.length} levels, ${size} each) from the residuals of ${observations} readings; expected fewer effects than readings`,
      );
  }
}

/**
 * Reads the columns a description names.
 *
 * @throws {RangeError} when a column is missing or unusable (rows counted from 1), or when there are as many random
 * effects of one grouping as readings
 */
export function readModel(columns: Columns, description: MixedDescription): ModelData {
  const response = numericColumn(columns, description.response, 'the response');
  const length = response.length;
  if (length === 0) throw new RangeError(`Cannot fit: column "${description.response}" has no rows`);
  const given = description.weights ? positiveColumn(columns, description.weights, 'the weight', length) : null;
  const { repeats } = description;
  const count = repeats ? positiveColumn(columns, repeats.count, 'the count', length) : null;
  const squares = repeats ? numericColumn(columns, repeats.sumOfSquares, 'the sum of squares', length) : null;
  let [observations, withinSquares, sumLogWeights] = [0, 0, 0];
  for (let row = 0; row < length; row++) {
    observations += count ? count[row]! : 1;
    const w = given ? given[row]! : 1;
    if (squares) withinSquares += w * squares[row]!;
    if (given) sumLogWeights += (count ? count[row]! : 1) * Math.log(w);
  }
  const weights = given && count ? given.map((w, row) => w * count[row]!) : (given ?? count);
  const groupings = randomDesign(columns, description.random, length);
  requireIdentifiable(groupings, observations);
  const design = fixedDesign(columns, description.fixed, { intercept: description.intercept ?? true, length });
  return { response, weights, design, groupings, observations, withinSquares, sumLogWeights };
}

/**
 * Collapses the data to cross-products and finds the elimination order.
 *
 * @throws {RangeError} when the fixed part explains the response exactly, or leaves no degree of freedom
 */
export function prepareModel(data: ModelData, method: Method): Model {
  const { response, weights, design, groupings, observations, withinSquares } = data;
  const length = response.length;
  const basis = fixedBasis(design, response, weights, withinSquares);
  const effectScale = groupings.map(({ values }) =>
    Float64Array.from(values, (value) => {
      if (!value) return 1;
      let squares = 0;
      for (const x of value) squares += x * x;
      return squares > 0 ? Math.sqrt(squares / length) : 1;
    }),
  );
  const products = crossProducts({
    length,
    weights,
    response: basis.response,
    fixedCount: basis.kept.length,
    start: basis.start,
    columns: basis.columns,
    values: basis.values,
    groupings,
    effectScale,
  });
  const last = products.fixed.length - 1;
  products.fixed[last]! += withinSquares / basis.responseScale ** 2;
  const degreesOfFreedom = observations - (method === 'REML' ? basis.kept.length : 0);
  if (observations <= basis.kept.length)
    throw new RangeError(
      `Cannot fit ${basis.kept.length} fixed coefficients to ${observations} readings; expected more readings than coefficients`,
    );
  const logScale = (method === 'REML' ? basis.logDeterminant : 0) - data.sumLogWeights;
  const { engine, factor } = engineOf(products);
  const criterion = criterionOf(engine, groupings, { method, degreesOfFreedom });
  return { data, method, basis, effectScale, products, factor, engine, criterion, degreesOfFreedom, logScale };
}

/** -2 log (restricted) likelihood as reference software prints it, from the parts at a point. */
export function fullCriterion(model: Model, logDet: number, residual: number): number {
  const { degreesOfFreedom: df, basis, logScale } = model;
  return logDet + logScale + df * (1 + Math.log((2 * Math.PI * residual * basis.responseScale ** 2) / df));
}
