import type { Engine } from './engine.ts';
import type { Grouping } from './random-design.ts';
import { semidefiniteCholesky } from '../symmetric.ts';

/** One free entry of the relative covariance factors. */
export interface Parameter {
  readonly group: number;
  readonly row: number;
  readonly column: number;
}

/** The free entries: lower triangles of the blocks of effects that may be correlated. */
export function parametersOf(groupings: readonly Grouping[]): Parameter[] {
  return groupings.flatMap(({ size, block }, group) => {
    const found: Parameter[] = [];
    for (let row = 0; row < size; row++)
      for (let column = 0; column <= row; column++)
        if (block[row] === block[column]) found.push({ group, row, column });
    return found;
  });
}

export function lambdaOf(theta: ArrayLike<number>, parameters: readonly Parameter[], size: Int32Array): Float64Array[] {
  const lambda = Array.from(size, (m) => new Float64Array(m * m));
  parameters.forEach(({ group, row, column }, k) => (lambda[group]![row * size[group]! + column] = theta[k]!));
  return lambda;
}

/** The log-determinant and the penalised residual of the model at a point, and their derivatives. */
export interface Evaluation {
  readonly logDet: number;
  readonly residual: number;
  readonly logDetSlope: Float64Array;
  readonly residualSlope: Float64Array;
}

/**
 * -2 log (restricted) likelihood with the residual variance profiled out, up to a constant:
 * `log det + df log r^2`. It is even in every column of every factor, so that a variance of zero is an ordinary
 * stationary point and no bound is needed.
 */
export interface Criterion {
  readonly parameters: readonly Parameter[];
  readonly degreesOfFreedom: number;
  value(theta: Float64Array): number;
  gradient(): Float64Array;
  /** Null where the criterion has no value. */
  evaluate(theta: Float64Array): Evaluation | null;
  /** One step of the EM algorithm for the covariance factors, sigma profiled; a sure way into the right region. */
  expectationStep(theta: Float64Array): Float64Array;
  readonly evaluations: () => number;
}

/** The covariance with zeros between effects of different blocks, as a lower triangle times its transpose. */
export function blockCholesky(covariance: Float64Array, block: readonly number[]): Float64Array {
  const m = block.length;
  return semidefiniteCholesky(
    covariance.map((x, at) => (block[Math.floor(at / m)] === block[at % m] ? x : 0)),
    m,
  );
}

/** @throws {RangeError} where the criterion has no value */
export function requireEvaluation(criterion: Criterion, theta: Float64Array): Evaluation {
  const found = criterion.evaluate(theta);
  if (!found) throw new RangeError('Cannot evaluate the likelihood: the cross-products are not positive definite');
  return found;
}

export function criterionOf(
  engine: Engine,
  groupings: readonly Grouping[],
  { method, degreesOfFreedom }: { readonly method: 'REML' | 'ML'; readonly degreesOfFreedom: number },
): Criterion {
  const size = Int32Array.from(groupings, (grouping) => grouping.size);
  const parameters = parametersOf(groupings);
  let evaluations = 0;
  let parts = { logDet: 0, residual: 1 };

  const value = (theta: Float64Array): number => {
    evaluations++;
    const found = engine.evaluate(lambdaOf(theta, parameters, size));
    if (!found) return Infinity;
    const { logDetRandom, logDetFixed, residual } = found;
    parts = { logDet: logDetRandom + (method === 'REML' ? logDetFixed : 0), residual };
    return parts.logDet + degreesOfFreedom * Math.log(residual);
  };
  const slopesHere = (): Pick<Evaluation, 'logDetSlope' | 'residualSlope'> => {
    const { logDet, residual } = engine.slopes(method);
    return {
      logDetSlope: Float64Array.from(
        parameters,
        ({ group, row, column }) => 2 * logDet[group]![row * size[group]! + column]!,
      ),
      residualSlope: Float64Array.from(
        parameters,
        ({ group, row, column }) => -2 * residual[group]![row * size[group]! + column]!,
      ),
    };
  };
  return {
    parameters,
    degreesOfFreedom,
    value,
    gradient() {
      const { logDetSlope, residualSlope } = slopesHere();
      return logDetSlope.map((slope, k) => slope + (degreesOfFreedom * residualSlope[k]!) / parts.residual);
    },
    evaluate(theta) {
      if (!Number.isFinite(value(theta))) return null;
      return { ...parts, ...slopesHere() };
    },
    expectationStep(theta) {
      if (!Number.isFinite(value(theta))) return theta;
      const { spread, outer } = engine.slopes(method);
      const lambda = lambdaOf(theta, parameters, size);
      const variance = parts.residual / degreesOfFreedom;
      const next = spread.map((s, g) => {
        const m = size[g]!;
        const levels = groupings[g]!.labels.length;
        const inner = s.map((x, i) => (x + outer[g]![i]! / variance) / levels);
        const covariance = new Float64Array(m * m);
        for (let i = 0; i < m; i++)
          for (let j = 0; j < m; j++)
            for (let k = 0; k < m; k++)
              for (let l = 0; l < m; l++)
                covariance[i * m + j]! += lambda[g]![i * m + k]! * inner[k * m + l]! * lambda[g]![j * m + l]!;
        return blockCholesky(covariance, groupings[g]!.block);
      });
      return Float64Array.from(parameters, ({ group, row, column }) => next[group]![row * size[group]! + column]!);
    },
    evaluations: () => evaluations,
  };
}
