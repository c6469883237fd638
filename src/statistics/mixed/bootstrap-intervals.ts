import { chiSquaredQuantile } from '../distributions.ts';
import { quantile } from '../location-scale.ts';
import { normalRandom, uniformRandom } from '../random.ts';
import { lambdaOf } from './criterion.ts';
import type { Columns, MixedDescription } from './description.ts';
import { solveMixed, type MixedFit, type Solved } from './fit-mixed.ts';
import { readModel, type Method } from './model.ts';
import type { ParameterInterval } from './profile-intervals.ts';

export interface BootstrapOptions {
  readonly method?: Method;
  /** Default 0.95. */
  readonly level?: number;
  /** Whole number from 1. */
  readonly seed: number;
  /** Simulated data sets; default 1000. */
  readonly replicates?: number;
}

export interface BootstrapIntervals {
  readonly intervals: readonly ParameterInterval[];
  /** Simulated data sets whose fit did not converge; they count like the others. */
  readonly notConverged: number;
}

/** Draws responses, and the spread within repeats, from a fitted model. */
function simulator({ model, curvature, fit }: Solved, seed: number) {
  const { data, basis, criterion, effectScale, products } = model;
  const { design, groupings, weights, response } = data;
  const normal = normalRandom(seed);
  // A stream of its own for the few chi-squared draws, so that both stay reproducible.
  const uniform = uniformRandom(seed);
  const lambda = lambdaOf(curvature.theta, criterion.parameters, products.size);
  const coefficients = new Float64Array(design.names.length);
  fit.fixed.forEach(({ term, estimate }) => (coefficients[design.names.indexOf(term)] = estimate));
  const unit = Math.sqrt(curvature.variance) * basis.responseScale;
  const within = data.observations - response.length;
  return (): { response: Float64Array; withinSquares: number } => {
    const effects = groupings.map(({ labels, size: m }, g) => {
      const b = new Float64Array(labels.length * m);
      const u = new Float64Array(m);
      for (let at = 0; at < b.length; at += m) {
        for (let e = 0; e < m; e++) u[e] = unit * normal();
        for (let e = 0; e < m; e++) {
          let sum = 0;
          for (let k = 0; k <= e; k++) sum += lambda[g]![e * m + k]! * u[k]!;
          b[at + e] = sum / effectScale[g]![e]!;
        }
      }
      return b;
    });
    return {
      withinSquares: data.withinSquares > 0 ? unit ** 2 * chiSquaredQuantile(uniform(), within) : 0,
      response: response.map((_, row) => {
        let y = (unit * normal()) / Math.sqrt(weights?.[row] ?? 1);
        for (let at = design.start[row]!; at < design.start[row + 1]!; at++)
          y += design.values[at]! * coefficients[design.columns[at]!]!;
        groupings.forEach(({ codes, values, size: m }, g) => {
          for (let e = 0; e < m; e++) y += effects[g]![codes[row]! * m + e]! * (values[e]?.[row] ?? 1);
        });
        return y;
      }),
    };
  };
}

/** The parameters of a fit in one order, each with the name of its interval. */
function parametersOfFit(fit: MixedFit): Omit<ParameterInterval, 'low' | 'high'>[] {
  const found: Omit<ParameterInterval, 'low' | 'high'>[] = [];
  fit.random.forEach(({ group, effects, standardDeviations, correlations, block }) => {
    effects.forEach((effect, e) =>
      found.push({ kind: 'standard deviation', group, of: [effect], estimate: standardDeviations[e]! }),
    );
    effects.forEach((second, j) => {
      effects.slice(0, j).forEach((first, i) => {
        if (block[i] === block[j])
          found.push({ kind: 'correlation', group, of: [first, second], estimate: correlations[i]![j]! });
      });
    });
  });
  found.push({ kind: 'sigma', group: '', of: [], estimate: fit.sigma });
  fit.fixed.forEach(({ term, estimate }) => found.push({ kind: 'fixed', group: '', of: [term], estimate }));
  return found;
}

/**
 * Parametric-bootstrap intervals: percentiles of the estimates from data simulated at the fit and fitted again. A
 * correlation that a simulated fit leaves undefined, one of its standard deviations being 0, is left out of its
 * percentiles.
 *
 * @throws {RangeError} as `fitMixed`
 */
export function bootstrapIntervals(
  columns: Columns,
  description: MixedDescription,
  { method = 'REML', level = 0.95, seed, replicates = 1000 }: BootstrapOptions,
): BootstrapIntervals {
  const data = readModel(columns, description);
  const solved = solveMixed(data, { method });
  const draw = simulator(solved, seed);
  const estimates = parametersOfFit(solved.fit);
  const draws = estimates.map(() => new Float64Array(replicates));
  let notConverged = 0;
  for (let replicate = 0; replicate < replicates; replicate++) {
    const { fit } = solveMixed({ ...data, ...draw() }, { method });
    if (!fit.convergence.converged) notConverged++;
    parametersOfFit(fit).forEach(({ estimate }, k) => (draws[k]![replicate] = estimate));
  }
  const tail = (1 - level) / 2;
  return {
    notConverged,
    intervals: estimates.map((parameter, k) => {
      const kept = draws[k]!.filter((value) => !Number.isNaN(value));
      return kept.length > 0
        ? { ...parameter, low: quantile(kept, tail), high: quantile(kept, 1 - tail) }
        : { ...parameter, low: NaN, high: NaN };
    }),
  };
}
