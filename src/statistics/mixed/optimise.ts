import { symmetricEigen } from '../symmetric.ts';

/** A smooth function; `gradient` is that at the point last given to `value`, which must have been finite. */
export interface Objective {
  value(theta: Float64Array): number;
  gradient(): Float64Array;
}

export interface Minimum {
  readonly theta: Float64Array;
  readonly value: number;
  readonly gradient: Float64Array;
  /** Newton decrement `g' H^-1 g`: twice the fall in value that a last step could still bring. */
  readonly decrement: number;
  readonly iterations: number;
}

/** The search ends when a further Newton step could lower the value by no more than half of this. */
const enough = 1e-13;
const mostIterations = 200;

/**
 * No parameter goes farther unless told otherwise: where residuals vanish the best factor is infinite, and long before that its
 * square leaves no digits for the residuals.
 */
const usualFarthest = 1e5;

/** Updates after which the Hessian is differenced anew: one that came through a saddle may stay wrong for long. */
const mostUpdates = 8;

/**
 * The criteria minimised here are even in some parameters, so that a point with one of them at zero is stationary even
 * where it is no minimum. Closer to zero than this, the curvature is looked at before a point is accepted.
 */
const nearPlane = 1e-3;

/** A point that lies lower along a direction of negative curvature; null when there is none. */
function downhill(
  objective: Objective,
  theta: Float64Array,
  { value, hessian }: { readonly value: number; readonly hessian: Float64Array },
): Float64Array | null {
  const n = theta.length;
  const { values, vectors } = symmetricEigen(hessian, n);
  const largest = values.reduce((most, x) => Math.max(most, Math.abs(x)), 0);
  for (let k = 0; k < n; k++) {
    if (!(values[k]! < -1e-6 * largest)) continue;
    for (let step = 0.5; step > 1e-4; step /= 2) {
      const moved = theta.map((x, i) => x + step * vectors[i * n + k]!);
      if (objective.value(moved) < value - 1e-9) return moved;
    }
  }
  return null;
}

/** Step for differences of the gradient in one parameter. */
export function differenceStep(theta: number): number {
  return 1e-4 * Math.max(1, Math.abs(theta));
}

/** Hessian from forward differences of the gradient, made symmetric. */
function forwardHessian(objective: Objective, theta: Float64Array, gradient: Float64Array): Float64Array {
  const n = theta.length;
  const hessian = new Float64Array(n * n);
  for (let k = 0; k < n; k++) {
    const moved = theta.slice();
    moved[k]! += differenceStep(theta[k]!);
    if (!Number.isFinite(objective.value(moved))) {
      hessian[k * n + k]! += 1;
      continue;
    }
    const there = objective.gradient();
    for (let i = 0; i < n; i++) {
      const slope = (there[i]! - gradient[i]!) / (moved[k]! - theta[k]!) / 2;
      hessian[i * n + k]! += slope;
      hessian[k * n + i]! += slope;
    }
  }
  return hessian;
}

/** Descent direction `-|H|^-1 g` with eigenvalues kept away from zero, and the decrement it promises. */
function direction(hessian: Float64Array, gradient: Float64Array): { step: Float64Array; decrement: number } {
  const n = gradient.length;
  const { values, vectors } = symmetricEigen(hessian, n);
  const largest = values.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
  const step = new Float64Array(n);
  let decrement = 0;
  for (let k = 0; k < n; k++) {
    let along = 0;
    for (let i = 0; i < n; i++) along += vectors[i * n + k]! * gradient[i]!;
    const curvature = Math.max(Math.abs(values[k]!), 1e-8 * largest, 1e-300);
    decrement += (along * along) / curvature;
    for (let i = 0; i < n; i++) step[i]! -= (vectors[i * n + k]! * along) / curvature;
  }
  return { step, decrement };
}

/** BFGS update of the Hessian; left alone where the curvature along the step is not positive. */
function update(hessian: Float64Array, s: Float64Array, y: Float64Array): void {
  const n = s.length;
  const hs = new Float64Array(n);
  let [sy, shs] = [0, 0];
  for (let i = 0; i < n; i++) {
    for (let j = 0; j < n; j++) hs[i]! += hessian[i * n + j]! * s[j]!;
    sy += s[i]! * y[i]!;
    shs += s[i]! * hs[i]!;
  }
  if (!(sy > 1e-12 * Math.abs(shs) && shs > 0)) return;
  for (let i = 0; i < n; i++)
    for (let j = 0; j < n; j++) hessian[i * n + j]! += (y[i]! * y[j]!) / sy - (hs[i]! * hs[j]!) / shs;
}

/**
 * Minimises a smooth function by a quasi-Newton method: the Hessian is differenced from the gradient at the start,
 * whenever progress stalls and after some updates, and kept up by BFGS updates between (Nocedal & Wright, Numerical Optimization, 2nd ed.,
 * chapters 3 and 6).
 *
 * @param farthest no parameter goes farther from 0 than this
 */
export function minimise(objective: Objective, from: Float64Array, farthest = usualFarthest): Minimum {
  let theta: Float64Array = from.slice();
  let value = objective.value(theta);
  let gradient = objective.gradient();
  let hessian = forwardHessian(objective, theta, gradient);
  let updates = 0;
  let decrement = Infinity;
  let iterations = 0;
  for (; iterations < mostIterations; iterations++) {
    const { step, decrement: promised } = direction(hessian, gradient);
    decrement = promised;
    if (updates >= mostUpdates && decrement > 1e-3) {
      hessian = forwardHessian(objective, theta, gradient);
      updates = 0;
      continue;
    }
    if (decrement <= Math.max(enough, 1e-15 * Math.abs(value))) {
      if (theta.every((x) => Math.abs(x) > nearPlane)) break;
      if (updates > 0) {
        hessian = forwardHessian(objective, theta, gradient);
        updates = 0;
        continue;
      }
      const lower = downhill(objective, theta, { value, hessian });
      if (!lower) break;
      theta = lower;
      value = objective.value(theta);
      gradient = objective.gradient();
      hessian = forwardHessian(objective, theta, gradient);
      continue;
    }
    const longest = step.reduce((most, x, i) => Math.max(most, Math.abs(x) / Math.max(1, Math.abs(theta[i]!))), 0);
    let scale = Math.min(1, 2 / longest);
    // Close to the minimum the value's own rounding hides the fall; there the gradient alone decides.
    const noise = 1e-12 * Math.abs(value) + 1e-12;
    let next = theta;
    let reached = Infinity;
    for (let halvings = 0; halvings < 40; halvings++, scale /= 2) {
      next = theta.map((x, i) => x + scale * step[i]!);
      reached = next.some((x) => Math.abs(x) > farthest) ? Infinity : objective.value(next);
      if (reached <= value - 1e-4 * scale * decrement + noise) break;
      reached = Infinity;
    }
    if (reached === Infinity) {
      if (updates === 0) break;
      objective.value(theta);
      hessian = forwardHessian(objective, theta, gradient);
      updates = 0;
      continue;
    }
    const there = objective.gradient();
    update(
      hessian,
      next.map((x, i) => x - theta[i]!),
      there.map((x, i) => x - gradient[i]!),
    );
    [theta, value, gradient] = [next, reached, there];
    updates++;
  }
  return { theta, value, gradient, decrement, iterations };
}
