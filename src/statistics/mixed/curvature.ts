import type { Optimum } from './boundary.ts';
import { inverseOfFactor } from './gradient.ts';
import type { Evaluation } from './criterion.ts';
import type { Model } from './model.ts';
import { differenceStep } from './optimise.ts';
import { symmetricEigen } from '../symmetric.ts';

/**
 * How the likelihood bends at the optimum, in the free covariance parameters `theta` and `tau = log sigma^2`.
 *
 * The (restricted) deviance with sigma not profiled out is `log det(theta) + df tau + r^2(theta) exp(-tau)`.
 */
export interface Curvature {
  readonly theta: Float64Array;
  readonly free: readonly number[];
  readonly steps: readonly number[];
  /** sigma^2 in inner units. */
  readonly variance: number;
  /** Asymptotic covariance of (free theta, tau): twice the inverse Hessian, k + 1 square. */
  readonly covariance: Float64Array;
  /** Covariance of the inner fixed coefficients over sigma^2, and its derivatives in each free parameter. */
  readonly fixed: Float64Array;
  readonly fixedSlopes: readonly Float64Array[];
  readonly decrement: number;
  readonly gradient: Float64Array;
  readonly value: number;
  readonly evaluation: Evaluation;
  readonly isMinimum: boolean;
}

/** Inverse of the fixed part of the factorised cross-products, p square. */
function fixedInverse({
  engine: {
    factor: { root, elimination, products },
  },
}: Model): Float64Array {
  const { rootSize: d } = elimination;
  const p = products.fixedCount;
  const lower = new Float64Array(p * p);
  for (let i = 0; i < p; i++)
    for (let j = 0; j <= i; j++) lower[i * p + j] = root[(d - 1 - p + i) * d + d - 1 - p + j]!;
  return inverseOfFactor(lower, p, p, p);
}

/**
 * Hessian of the profiled criterion and the pieces it is made of, by central differences of the analytic gradient; null where
 * the criterion has no value beside the optimum.
 */
function differences(model: Model, theta: Float64Array, free: readonly number[]) {
  const k = free.length;
  const logDet = new Float64Array(k * k);
  const residual = new Float64Array(k * k);
  const fixedSlopes: Float64Array[] = [];
  const steps = free.map((at) => differenceStep(theta[at]!));
  for (const [a, at] of free.entries()) {
    const h = steps[a]!;
    const [up, down] = [theta.slice(), theta.slice()];
    up[at]! += h;
    down[at]! -= h;
    const above = model.criterion.evaluate(up);
    const fixedAbove = fixedInverse(model);
    const below = model.criterion.evaluate(down);
    if (!above || !below) return null;
    const fixedBelow = fixedInverse(model);
    fixedSlopes.push(fixedAbove.map((x, i) => (x - fixedBelow[i]!) / (2 * h)));
    free.forEach((other, b) => {
      const l = (above.logDetSlope[other]! - below.logDetSlope[other]!) / (4 * h);
      const r = (above.residualSlope[other]! - below.residualSlope[other]!) / (4 * h);
      logDet[a * k + b]! += l;
      logDet[b * k + a]! += l;
      residual[a * k + b]! += r;
      residual[b * k + a]! += r;
    });
  }
  return { logDet, residual, fixedSlopes, steps };
}

/** Inverse of a symmetric matrix over its positive eigenvalues; `isPositive` says whether that is all of them. */
function positiveInverse(a: Float64Array, n: number): { inverse: Float64Array; isPositive: boolean } {
  const { values, vectors } = symmetricEigen(a, n);
  const largest = Math.max(0, ...values);
  const inverse = new Float64Array(n * n);
  let isPositive = true;
  for (let k = 0; k < n; k++) {
    if (!(values[k]! > 1e-10 * largest)) {
      isPositive = false;
      continue;
    }
    for (let i = 0; i < n; i++)
      for (let j = 0; j < n; j++) inverse[i * n + j]! += (vectors[i * n + k]! * vectors[j * n + k]!) / values[k]!;
  }
  return { inverse, isPositive };
}

/**
 * Takes the optimum to the last digits by Newton steps with the exact Hessian, and keeps that Hessian; null where the criterion
 * has no value at the optimum or beside it.
 */
export function curvatureAt(model: Model, optimum: Optimum): Curvature | null {
  const { criterion, degreesOfFreedom: df } = model;
  const { free } = optimum;
  const k = free.length;
  let theta = optimum.theta.slice();
  const here = criterion.evaluate(theta);
  const beside = here && differences(model, theta, free);
  if (!beside) return null;
  let evaluation = here;
  const { logDet, residual, fixedSlopes, steps } = beside;
  const profiled = (at: Evaluation): Float64Array =>
    Float64Array.from(free, (f) => at.logDetSlope[f]! + (df * at.residualSlope[f]!) / at.residual);
  const hessian = new Float64Array(k * k);
  for (let a = 0; a < k; a++)
    for (let b = 0; b < k; b++)
      hessian[a * k + b] =
        logDet[a * k + b]! +
        df *
          (residual[a * k + b]! / evaluation.residual -
            (evaluation.residualSlope[free[a]!]! * evaluation.residualSlope[free[b]!]!) / evaluation.residual ** 2);
  const { inverse, isPositive } = positiveInverse(hessian, k);
  const newton = (gradient: Float64Array): { step: Float64Array; decrement: number } => {
    const step = gradient.map((_, a) => -gradient.reduce((sum, g, b) => sum + inverse[a * k + b]! * g, 0));
    return { step, decrement: -gradient.reduce((sum, g, a) => sum + g * step[a]!, 0) };
  };
  let gradient = profiled(evaluation);
  let { step, decrement } = newton(gradient);
  for (let polish = 0; polish < 3 && decrement > 1e-18 * df && isPositive; polish++) {
    const next = theta.slice();
    free.forEach((at, a) => (next[at]! += step[a]!));
    const there = criterion.evaluate(next);
    if (!there) break;
    const slope = profiled(there);
    const after = newton(slope);
    if (!(after.decrement < decrement)) break;
    [theta, evaluation, gradient, step, decrement] = [next, there, slope, after.step, after.decrement];
  }
  criterion.value(theta);

  const variance = evaluation.residual / df;
  const n = k + 1;
  const full = new Float64Array(n * n);
  for (let a = 0; a < k; a++) {
    for (let b = 0; b < k; b++) full[a * n + b] = logDet[a * k + b]! + residual[a * k + b]! / variance;
    full[a * n + k] = full[k * n + a] = -evaluation.residualSlope[free[a]!]! / variance;
  }
  full[n * n - 1] = df;
  const { inverse: half } = positiveInverse(full, n);
  return {
    theta,
    free,
    steps,
    variance,
    covariance: half.map((x) => 2 * x),
    fixed: fixedInverse(model),
    fixedSlopes,
    decrement,
    gradient,
    value: evaluation.logDet + df * Math.log(evaluation.residual),
    evaluation,
    isMinimum: isPositive,
  };
}

/**
 * Satterthwaite's degrees of freedom of a variance `sigma^2 c(theta)`: `2 v^2 / (g' A g)` with g its gradient and A the
 * covariance of the parameters. Satterthwaite (1946), Biometrics Bulletin 2, 110-114; Kuznetsova, Brockhoff &
 * Christensen (2017), J. Stat. Softw. 82(13), section 2.
 *
 * @param c      the variance over sigma^2
 * @param slopes derivatives of c in each free parameter
 */
export function satterthwaite({ covariance, free }: Curvature, c: number, slopes: ArrayLike<number>): number {
  const n = free.length + 1;
  // In units of sigma^2, so that the derivative in log sigma^2 is c itself.
  const gradient = Float64Array.from({ length: n }, (_, a) => (a < n - 1 ? slopes[a]! : c));
  let spread = 0;
  for (let a = 0; a < n; a++)
    for (let b = 0; b < n; b++) spread += gradient[a]! * gradient[b]! * covariance[a * n + b]!;
  return c > 0 ? (2 * c * c) / spread : NaN;
}
