import { fitLinear, type LinearFit, type LinearProblem } from './least-squares.ts';
import { median } from './location-scale.ts';

export type Psi = 'huber' | 'bisquare';

export interface RobustOptions {
  /** Default `huber`; `bisquare` redescends, so that a gross outlier counts nothing. */
  readonly psi?: Psi;
  /** Tuning constant in scales; defaults 1.345 and 4.685, 95 % efficient for normal errors. */
  readonly tuning?: number;
}

export interface RobustEstimate {
  readonly term: string;
  readonly estimate: number;
  readonly standardError: number;
  readonly t: number;
}

export interface RobustFit {
  readonly coefficients: readonly RobustEstimate[];
  readonly dropped: LinearFit['dropped'];
  /** Robust scale of the residuals: median absolute residual over 0.6745. */
  readonly scale: number;
  /** Weight of each row from its residual, 1 for a row that is not doubted. */
  readonly weights: Float64Array;
  readonly residuals: Float64Array;
  readonly iterations: number;
  readonly converged: boolean;
}

const mostIterations = 2000;
const enough = 1e-13;

function weightOf(psi: Psi, u: number, tuning: number): number {
  const size = Math.abs(u);
  if (psi === 'huber') return size <= tuning ? 1 : tuning / size;
  return size < tuning ? (1 - (u / tuning) ** 2) ** 2 : 0;
}

/** Derivative of psi(u) = u w(u). */
function slopeOf(psi: Psi, u: number, tuning: number): number {
  if (psi === 'huber') return Math.abs(u) <= tuning ? 1 : 0;
  const square = (u / tuning) ** 2;
  return square < 1 ? (1 - square) * (1 - 5 * square) : 0;
}

function scaleOf(residuals: Float64Array): number {
  return median(residuals.map(Math.abs)) / 0.6745;
}

/**
 * Robust regression by M-estimation: iterated weighted least squares from a least-squares start, scale estimated anew in
 * each step from the median absolute residual. Huber (1981), Robust Statistics, chapter 7; standard errors are those of
 * Huber's equation (6.5) there, as reference software prints them.
 *
 * @throws {RangeError} as {@link fitLinear}, and when more than half the rows lie exactly on the fit
 */
export function fitRobust(
  problem: Omit<LinearProblem, 'weights'>,
  { psi = 'huber', tuning }: RobustOptions = {},
): RobustFit {
  const c = tuning ?? (psi === 'huber' ? 1.345 : 4.685);
  const n = problem.response.length;
  const start = fitLinear(problem);
  let residuals = start.residuals;
  let coefficients = start.coefficients;
  const weights = new Float64Array(n).fill(1);
  let scale = scaleOf(residuals);
  // Residuals below this are rounding, not spread.
  const exact = 1e-14 * Math.max(...Array.from(problem.response, Math.abs));
  let converged = false;
  let iterations = 0;
  while (iterations < mostIterations && !converged) {
    iterations++;
    scale = scaleOf(residuals);
    if (!(scale > exact))
      throw new RangeError('Cannot estimate a robust scale: more than half of the rows lie exactly on the fit');
    for (let i = 0; i < n; i++) weights[i] = weightOf(psi, residuals[i]! / scale, c);
    const next = weightedFit(problem, weights);
    let [moved, size] = [0, 0];
    for (let i = 0; i < n; i++) {
      moved += (next.residuals[i]! - residuals[i]!) ** 2;
      size += residuals[i]! ** 2;
    }
    residuals = next.residuals;
    coefficients = next.coefficients;
    converged = Math.sqrt(moved / Math.max(1e-20, size)) <= enough;
  }
  const spread = spreadFactor(residuals, scale, { psi, c, p: coefficients.length });
  return {
    coefficients: coefficients.map(({ term, estimate }, k): RobustEstimate => {
      const standardError = Math.sqrt(start.covariance[k]![k]!) * (spread / start.sigma);
      return { term, estimate, standardError, t: estimate / standardError };
    }),
    dropped: start.dropped,
    scale,
    weights,
    residuals,
    iterations,
    converged,
  };
}

/** Weighted least squares; rows of weight 0 are left out of the fit but keep their residual. */
function weightedFit(
  problem: Omit<LinearProblem, 'weights'>,
  weights: Float64Array,
): Pick<LinearFit, 'coefficients' | 'residuals'> {
  const kept = Array.from(weights.keys()).filter((i) => weights[i]! > 0);
  const fit = fitLinear({
    response: kept.map((i) => problem.response[i]!),
    names: problem.names,
    columns: problem.columns.map((column) => kept.map((i) => column[i]!)),
    weights: kept.map((i) => weights[i]!),
  });
  const columns = fit.coefficients.map(({ term }) => problem.columns[problem.names.indexOf(term)]!);
  const residuals = Float64Array.from(problem.response, (y, i) => {
    let rest = y;
    for (let k = 0; k < columns.length; k++) rest -= fit.coefficients[k]!.estimate * columns[k]![i]!;
    return rest;
  });
  return { coefficients: fit.coefficients, residuals };
}

/** What takes the place of sigma in the covariance `sigma^2 (X'X)^-1`. */
function spreadFactor(
  residuals: Float64Array,
  scale: number,
  { psi, c, p }: { psi: Psi; c: number; p: number },
): number {
  const n = residuals.length;
  let squares = 0;
  let mean = 0;
  for (const r of residuals) {
    squares += (r * weightOf(psi, r / scale, c)) ** 2;
    mean += slopeOf(psi, r / scale, c) / n;
  }
  let variance = 0;
  for (const r of residuals) variance += (slopeOf(psi, r / scale, c) - mean) ** 2 / (n - 1);
  const correction = 1 + (p * variance) / (n * mean * mean);
  return (Math.sqrt(squares / (n - p)) / mean) * correction;
}
