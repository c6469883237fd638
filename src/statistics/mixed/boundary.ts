import { blockCholesky, lambdaOf, type Criterion, type Parameter } from './criterion.ts';
import { minimise, type Minimum, type Objective } from './optimise.ts';
import type { Grouping } from './random-design.ts';

/** Diagonals below this (effects scaled to unit mean square, relative to sigma) are tried at exactly zero. */
const nearZero = 0.05;

/** The criterion as a function of some of its parameters, the others held at zero. */
function freeObjective(criterion: Criterion, free: readonly number[]): Objective {
  const full = (part: ArrayLike<number>): Float64Array => {
    const theta = new Float64Array(criterion.parameters.length);
    free.forEach((at, k) => (theta[at] = part[k]!));
    return theta;
  };
  return {
    value: (part) => criterion.value(full(part)),
    gradient() {
      const gradient = criterion.gradient();
      return Float64Array.from(free, (at) => gradient[at]!);
    },
  };
}

export interface Optimum extends Minimum {
  /** Whether each parameter is free; the others are exactly zero, on the boundary. */
  readonly free: readonly number[];
}

/** Minimises over the parameters in `free`, the others being zero; `start` has all parameters. */
function minimiseFree(
  criterion: Criterion,
  start: Float64Array,
  free: readonly number[],
  farthest: number | undefined,
): Optimum {
  if (free.length === 0) {
    const value = criterion.value(new Float64Array(start.length));
    return {
      theta: new Float64Array(start.length),
      value,
      gradient: criterion.gradient(),
      decrement: 0,
      iterations: 0,
      free,
    };
  }
  const found = minimise(
    freeObjective(criterion, free),
    Float64Array.from(free, (at) => start[at]!),
    farthest,
  );
  const theta = new Float64Array(start.length);
  free.forEach((at, k) => (theta[at] = found.theta[k]!));
  return { ...found, theta, free };
}

/** The same covariances with every diagonal at least zero and redundant columns gone. */
function canonical(
  theta: Float64Array,
  parameters: readonly Parameter[],
  groupings: readonly Grouping[],
): Float64Array {
  const size = Int32Array.from(groupings, (grouping) => grouping.size);
  const triangles = lambdaOf(theta, parameters, size).map((lambda, g) => {
    const m = size[g]!;
    const covariance = new Float64Array(m * m);
    for (let i = 0; i < m; i++)
      for (let j = 0; j < m; j++)
        for (let k = 0; k <= Math.min(i, j); k++) covariance[i * m + j]! += lambda[i * m + k]! * lambda[j * m + k]!;
    return blockCholesky(covariance, groupings[g]!.block);
  });
  return Float64Array.from(parameters, ({ group, row, column }) => triangles[group]![row * size[group]! + column]!);
}

function afterTwoSteps(criterion: Criterion): Float64Array {
  let start = Float64Array.from(criterion.parameters, ({ row, column }) => (row === column ? 1 : 0));
  for (let step = 0; step < 2; step++) start = Float64Array.from(criterion.expectationStep(start));
  return start;
}

/** The same parameters with no diagonal at zero, from where the search could not leave. */
function besideZero(near: ArrayLike<number>, parameters: readonly Parameter[]): Float64Array {
  return Float64Array.from(parameters, ({ row, column }, at) =>
    row === column ? Math.max(near[at]!, nearZero) : near[at]!,
  );
}

/**
 * Finds the best relative covariance factors, exactly zero pivots among them.
 *
 * A variance of zero, or a correlation of one, is a factor with a zero on its diagonal. The criterion is even there, so
 * the search passes over zero freely; afterwards every small diagonal is set to zero, its column with it, the rest is
 * sought anew, and the zero stays if the criterion has not risen.
 *
 * @param options `near`: parameters of a fit to much the same data, to start from; by default two EM steps from the unit factor.
 * `farthest`: no parameter goes farther from 0
 */
export function findOptimum(
  criterion: Criterion,
  groupings: readonly Grouping[],
  { near, farthest }: { readonly near?: ArrayLike<number> | undefined; readonly farthest?: number } = {},
): Optimum {
  const { parameters } = criterion;
  const start = near ? besideZero(near, parameters) : afterTwoSteps(criterion);
  let free = parameters.map((_, at) => at);
  let best = minimiseFree(criterion, start, free, farthest);
  const candidates = parameters
    .flatMap(({ row, column }, at) => (row === column && Math.abs(best.theta[at]!) < nearZero ? [at] : []))
    .sort((a, b) => Math.abs(best.theta[a]!) - Math.abs(best.theta[b]!));
  for (const zero of candidates) {
    const { group, column } = parameters[zero]!;
    const tried = best.theta.map((x, at) => (at === zero ? 0 : x));
    const settled = canonical(tried, parameters, groupings);
    const fewer = free.filter((at) => {
      const parameter = parameters[at]!;
      return !(parameter.group === group && parameter.column === column);
    });
    if (fewer.length === free.length) continue;
    const without = minimiseFree(criterion, settled, fewer, farthest);
    if (without.value <= best.value + 1e-8 + 1e-13 * Math.abs(best.value)) [best, free] = [without, fewer];
  }
  return { ...best, theta: canonical(best.theta, parameters, groupings) };
}
