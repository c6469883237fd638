import { findOptimum, type Optimum } from './boundary.ts';
import { combineEffects, predictEffects, type Combination, type Combined } from './combine.ts';
import { lambdaOf } from './criterion.ts';
import { curvatureAt, satterthwaite, type Curvature } from './curvature.ts';
import type { Columns, MixedDescription, MixedOptions } from './description.ts';
import { factorise } from './factor.ts';
import { slopes } from './gradient.ts';
import { infer, type Inference } from './inference.ts';
import { fullCriterion, prepareModel, readModel, type Method, type Model, type ModelData } from './model.ts';
import { summariseRandom, type RandomSummary } from './random-summary.ts';

/** One fixed coefficient. */
export interface FixedEstimate extends Inference {
  readonly term: string;
}

/** The random effects of one grouping, predicted: arrays by effect, then by level. */
export interface ConditionalModes {
  readonly group: string;
  readonly effects: readonly string[];
  readonly levels: readonly string[];
  readonly modes: readonly Float64Array[];
  /** Standard deviation of the effect given the data, the fixed coefficients taken as known. */
  readonly standardDeviations: readonly Float64Array[];
  /** Standard error of (mode - effect), the estimation of the fixed coefficients included. */
  readonly predictionErrors: readonly Float64Array[];
}

/** How the search ended. */
export interface Convergence {
  readonly converged: boolean;
  /** Largest absolute derivative of the criterion in a free parameter (effects scaled to unit mean square). */
  readonly gradient: number;
  /** The fall of the criterion that another Newton step would promise; the test of convergence is below 1e-6. */
  readonly decrement: number;
  readonly iterations: number;
  readonly evaluations: number;
}

/** A fitted linear mixed model. */
export interface MixedFit {
  readonly method: Method;
  readonly fixed: readonly FixedEstimate[];
  /** Covariance matrix of the fixed coefficients, in their order. */
  readonly fixedCovariance: readonly Float64Array[];
  /** Fixed terms that are linear combinations of terms before them, and were left out. */
  readonly dropped: readonly string[];
  readonly random: readonly RandomSummary[];
  /** Parameters of the relative covariance factors, in the engine's scale: for `start` of the next fit, and nothing else. */
  readonly theta: Float64Array;
  /** Residual standard deviation, of a reading of weight 1. */
  readonly sigma: number;
  /** REML criterion or deviance: -2 log (restricted) likelihood. */
  readonly criterion: number;
  readonly logLikelihood: number;
  /** Number of parameters: fixed coefficients, (co)variances and sigma. */
  readonly parameters: number;
  readonly aic: number;
  readonly observations: number;
  readonly levels: Readonly<Record<string, number>>;
  /** Sentences that name each variance of exactly 0 and each correlation of exactly 1 or -1; empty inside the boundary. */
  readonly boundary: readonly string[];
  readonly convergence: Convergence;
  readonly fitted: Float64Array;
  /** Response less fitted, row by row. */
  readonly residuals: Float64Array;
  modes(): readonly ConditionalModes[];
  /** Estimates of combinations with errors, degrees of freedom and their joint covariance. */
  combine(combinations: readonly Combination[]): Combined;
  /** Estimates of combinations alone, at a fraction of the work. */
  predict(combinations: readonly Combination[]): readonly number[];
}

/** A fit and what further inference needs of it. */
export interface Solved {
  readonly model: Model;
  readonly curvature: Curvature;
  readonly solution: Solution;
  readonly fit: MixedFit;
}

function modesOf(model: Model, theta: Float64Array, variance: number): ConditionalModes[] {
  const { products, criterion, effectScale, basis, data } = model;
  const { size, scalarBase } = products;
  const factor = model.factor();
  const lambda = lambdaOf(theta, criterion.parameters, size);
  const spread = (method: Method): { modes: Float64Array; deviations: Float64Array[][] } => {
    factorise(factor, lambda);
    const deviations = data.groupings.map(({ size: m, labels }) =>
      Array.from({ length: m }, () => new Float64Array(labels.length)),
    );
    const { modes } = slopes(factor, method, {
      onNode: (g, scalar, inverse) => {
        const m = size[g]!;
        const triangle = lambda[g]!;
        const level = (scalar - scalarBase[g]!) / m;
        for (let e = 0; e < m; e++) {
          let sum = 0;
          for (let i = 0; i <= e; i++)
            for (let j = 0; j <= e; j++) sum += triangle[e * m + i]! * inverse(i, j) * triangle[e * m + j]!;
          deviations[g]![e]![level] =
            (Math.sqrt(Math.max(0, sum * variance)) * basis.responseScale) / effectScale[g]![e]!;
        }
      },
    });
    return { modes, deviations };
  };
  const given = spread('ML');
  const joint = spread('REML');
  return data.groupings.map(({ name, effects, labels, size: m }, g) => ({
    group: name,
    effects,
    levels: labels,
    modes: effects.map((_, e) =>
      Float64Array.from(
        labels,
        (_label, level) => (given.modes[scalarBase[g]! + level * m + e]! * basis.responseScale) / effectScale[g]![e]!,
      ),
    ),
    standardDeviations: given.deviations[g]!,
    predictionErrors: joint.deviations[g]!,
  }));
}

/** The coefficients of a fit, in real units. */
export interface Solution {
  /** By column of the design, 0 for those dropped. */
  readonly fixed: Float64Array;
  /** Random effects scalar by scalar. */
  readonly modes: Float64Array;
  /** The independent effects u that the random effects are made of, scalar by scalar; their standard deviation is sigma. */
  readonly spherical: Float64Array;
}

function solutionOf(model: Model, theta: Float64Array): Solution {
  const { engine, criterion, effectScale, basis, data } = model;
  const { scalarBase, randomScalars } = model.products;
  criterion.value(theta);
  const { x, modes } = engine.solution();
  const fixed = new Float64Array(data.design.names.length);
  const beta = basis.toCoefficients(x.subarray(randomScalars));
  basis.kept.forEach((j, k) => (fixed[j] = beta[k]!));
  data.groupings.forEach(({ size: m, labels }, g) => {
    for (let at = scalarBase[g]!, level = 0; level < labels.length; level++)
      for (let e = 0; e < m; e++, at++) modes[at]! *= basis.responseScale / effectScale[g]![e]!;
  });
  return { fixed, modes, spherical: x.subarray(0, randomScalars).map((u) => u * basis.responseScale) };
}

function fittedValues({ data, products }: Model, { fixed, modes }: Solution): Float64Array {
  const { design, groupings, response } = data;
  const fitted = new Float64Array(response.length);
  for (let row = 0; row < fitted.length; row++)
    for (let at = design.start[row]!; at < design.start[row + 1]!; at++)
      fitted[row]! += design.values[at]! * fixed[design.columns[at]!]!;
  groupings.forEach(({ codes, values, size: m }, g) => {
    const first = products.scalarBase[g]!;
    values.forEach((column, e) => {
      for (let row = 0; row < fitted.length; row++)
        fitted[row]! += modes[first + codes[row]! * m + e]! * (column ? column[row]! : 1);
    });
  });
  return fitted;
}

/** Covariance matrix of the fixed coefficients over sigma^2 and the derivatives of its diagonal, in design order. */
function fixedSpread(model: Model, curvature: Curvature, order: readonly number[]) {
  const { basis } = model;
  const p = basis.kept.length;
  const unit = order.map((k) => basis.toInner(Array.from({ length: p }, (_, j) => (j === k ? 1 : 0))));
  const form = (a: Float64Array, matrix: Float64Array, b: Float64Array): number => {
    let sum = 0;
    for (let i = 0; i < p; i++)
      if (a[i] !== 0) for (let j = 0; j < p; j++) if (b[j] !== 0) sum += a[i]! * matrix[i * p + j]! * b[j]!;
    return sum;
  };
  return {
    covariance: unit.map((a) => Float64Array.from(unit, (b) => form(a, curvature.fixed, b))),
    slopes: unit.map((a) => curvature.fixedSlopes.map((matrix) => form(a, matrix, a))),
  };
}

/**
 * Limits to the relative covariance factors, tried in turn. Readings without any scatter about the model draw the factors to
 * infinity, and each level of nesting costs the digits of a factor's square: nearer limits leave some for the residuals.
 */
const limits = [1e5, 300, 30];

/** Finds the optimum and how the criterion bends there, under the first limit that leaves digits for both. */
function settle(model: Model, near: ArrayLike<number> | undefined): { optimum: Optimum; curvature: Curvature } {
  const { criterion, data } = model;
  for (const farthest of limits) {
    const optimum = findOptimum(criterion, data.groupings, { near, farthest });
    const curvature = curvatureAt(model, optimum);
    if (curvature) return { optimum, curvature };
  }
  throw new RangeError(
    'Cannot fit: the readings follow the model too closely to tell their scatter; expected measured readings, check that they were not computed',
  );
}

/** Fits a model whose data have been read; see {@link fitMixed}. */
export function solveMixed(data: ModelData, { method = 'REML', level = 0.95, start }: MixedOptions = {}): Solved {
  const model = prepareModel(data, method);
  const { basis, criterion } = model;
  const { optimum, curvature } = settle(model, start);
  const { theta, variance, evaluation } = curvature;
  const sigma = Math.sqrt(variance) * basis.responseScale;
  const solution = solutionOf(model, theta);
  const order = basis.kept.map((_, k) => k).sort((a, b) => basis.kept[a]! - basis.kept[b]!);
  const spread = fixedSpread(model, curvature, order);
  const fixed = order.map((k, at): FixedEstimate => {
    const column = basis.kept[k]!;
    const estimate = solution.fixed[column]!;
    const c = spread.covariance[at]![at]!;
    const standardError = Math.sqrt(c) * sigma;
    const df = satterthwaite(curvature, c, spread.slopes[at]!);
    return { term: data.design.names[column]!, ...infer({ estimate, standardError, df }, level) };
  });
  const { random, boundary } = summariseRandom(model, theta, sigma);
  const value = fullCriterion(model, evaluation.logDet, evaluation.residual);
  const parameters = fixed.length + criterion.parameters.length + 1;
  const fitted = fittedValues(model, solution);
  const fit: MixedFit = {
    method,
    fixed,
    fixedCovariance: spread.covariance.map((row) => row.map((x) => x * sigma * sigma)),
    dropped: basis.dropped,
    random,
    theta,
    sigma,
    criterion: value,
    logLikelihood: -value / 2,
    parameters,
    aic: value + 2 * parameters,
    observations: data.observations,
    levels: Object.fromEntries(data.groupings.map(({ name, labels }) => [name, labels.length])),
    boundary,
    convergence: {
      converged: curvature.isMinimum && curvature.decrement < 1e-6,
      gradient: curvature.gradient.reduce((most, g) => Math.max(most, Math.abs(g)), 0),
      decrement: curvature.decrement,
      iterations: optimum.iterations,
      evaluations: criterion.evaluations(),
    },
    fitted,
    residuals: data.response.map((y, row) => y - fitted[row]!),
    modes: () => modesOf(model, theta, variance),
    combine: (combinations) => combineEffects(model, curvature, { combinations, level, solution }),
    predict: (combinations) => predictEffects(model, combinations, solution),
  };
  return { model, curvature, solution, fit };
}

/**
 * Linear mixed model `y = X beta + Z b + e` by REML or maximum likelihood.
 *
 * The data are collapsed to cross-products once; the criterion, profiled over beta and sigma, is then minimised over
 * the relative covariance factors with analytic derivatives, each evaluation a sparse block Cholesky factorisation
 * whose cost grows with the number of levels, not of readings.
 *
 * @param columns     numbers or labels, all of one length n
 * @param description response, fixed terms, random terms and weights, as names of columns
 * @returns estimates in the units of the response; standard deviations may be exactly 0 and correlations exactly 1:
 *          that is an estimate, and `boundary` says so
 * @throws {RangeError} when a column is missing, has a value that is not finite or a weight of 0 or less (rows counted
 *          from 1), when the response does not vary, or when there are as many random effects as readings
 * @see Bates, Maechler, Bolker & Walker (2015), J. Stat. Softw. 67(1)
 */
export function fitMixed(columns: Columns, description: MixedDescription, options: MixedOptions = {}): MixedFit {
  return solveMixed(readModel(columns, description), options).fit;
}
