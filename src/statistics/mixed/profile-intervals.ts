import { normalQuantile } from '../distributions.ts';
import { findOptimum } from './boundary.ts';
import { requireEvaluation } from './criterion.ts';
import type { Columns, MixedDescription } from './description.ts';
import { solveMixed, type Solved } from './fit-mixed.ts';
import { fullCriterion, prepareModel, readModel, type Model, type ModelData } from './model.ts';
import { minimise, type Objective } from './optimise.ts';
import type { Grouping } from './random-design.ts';

/** An interval for one parameter of a mixed model. */
export interface ParameterInterval {
  readonly kind: 'standard deviation' | 'correlation' | 'sigma' | 'fixed';
  /** Grouping of the random effects; empty for sigma and fixed terms. */
  readonly group: string;
  /** The effect or effects, or the fixed term; empty for sigma. */
  readonly of: readonly string[];
  readonly estimate: number;
  readonly low: number;
  readonly high: number;
}

/** -2 log-likelihood with one parameter held, minimised over all others. */
type Profile = (held: number) => number;

/** How a parameter is walked along: steps are taken in `to(value)`, which `from` undoes. */
interface Walk {
  readonly to: (value: number) => number;
  readonly from: (walked: number) => number;
  readonly step: number;
  /** Ends of the parameter's range, or null; when the profile is still low there, the end is the limit. */
  readonly ends: readonly [number | null, number | null];
}

const logarithmic: Walk = { to: Math.log, from: Math.exp, step: 0.3, ends: [0, null] };
const fisher: Walk = { to: Math.atanh, from: Math.tanh, step: 0.3, ends: [-1, 1] };

/** The value at which the profile has risen by `rise` on one side of the estimate. */
function limit(
  profile: Profile,
  {
    estimate,
    lowest,
    rise,
    side,
    walk,
  }: {
    readonly estimate: number;
    readonly lowest: number;
    readonly rise: number;
    readonly side: -1 | 1;
    readonly walk: Walk;
  },
): number {
  const end = walk.ends[side === -1 ? 0 : 1];
  if (end !== null && estimate === end) return end;
  const target = Math.sqrt(rise);
  const root = (walked: number): number => Math.sqrt(Math.max(0, profile(walk.from(walked)) - lowest)) - target;
  let inside = walk.to(estimate);
  let [atInside, outside, atOutside] = [-target, inside, -target];
  for (let tries = 0, step = walk.step; tries < 60 && !(atOutside > 0); tries++, step *= 1.6) {
    [inside, atInside] = [outside, atOutside];
    outside = inside + side * step;
    if (end !== null && Math.abs(walk.from(outside) - end) < 1e-7) return end;
    atOutside = root(outside);
  }
  // Regula falsi with the Illinois rule: the bracket shrinks from both ends.
  for (let tries = 0; tries < 60 && Math.abs(outside - inside) > 1e-10 * Math.max(1, Math.abs(outside)); tries++) {
    const middle = outside - (atOutside * (outside - inside)) / (atOutside - atInside);
    const found = root(middle);
    if (Math.abs(found) < 1e-10) return walk.from(middle);
    if (found > 0) {
      [outside, atOutside] = [middle, found];
      atInside /= 2;
    } else {
      [inside, atInside] = [middle, found];
      atOutside /= 2;
    }
  }
  return walk.from((inside + outside) / 2);
}

/** Minimises from where the last call ended; diagonals at zero are lifted a little, as zero is always stationary. */
function warmMinimiser(
  model: Model,
  start: Float64Array,
): (objective: Objective, held?: ReadonlySet<number>) => number {
  let last: Float64Array = start.slice();
  const { parameters } = model.criterion;
  return (objective, held = new Set()) => {
    const free = parameters.map((_, at) => at).filter((at) => !held.has(at));
    const full = (part: ArrayLike<number>): Float64Array => {
      const theta = new Float64Array(parameters.length);
      free.forEach((at, k) => (theta[at] = part[k]!));
      return theta;
    };
    const from = Float64Array.from(free, (at) => {
      const { row, column } = parameters[at]!;
      return row === column && Math.abs(last[at]!) < 0.05 ? 0.05 : last[at]!;
    });
    const found = minimise(
      {
        value: (part) => objective.value(full(part)),
        gradient: () => {
          const gradient = objective.gradient();
          return Float64Array.from(free, (at) => gradient[at]!);
        },
      },
      from,
    );
    last = full(found.theta);
    return found.value;
  };
}

/** Inner -2 log-likelihood at theta and sigma^2 = `variance(theta)`, with the slopes of log variance by `logSlope`. */
function heldVariance(
  model: Model,
  variance: (theta: Float64Array) => number,
  logSlope: (theta: Float64Array) => Float64Array,
): Objective {
  const { criterion, degreesOfFreedom: df } = model;
  let gradient: Float64Array = new Float64Array(0);
  return {
    value(theta) {
      const v = variance(theta);
      if (!(v > 0 && Number.isFinite(v))) return Infinity;
      const { logDet, residual, logDetSlope, residualSlope } = requireEvaluation(criterion, theta);
      const along = logSlope(theta);
      gradient = logDetSlope.map((slope, k) => slope + residualSlope[k]! / v + (df - residual / v) * along[k]!);
      return logDet + df * Math.log(v) + residual / v;
    },
    gradient: () => gradient,
  };
}

/** Profile of the standard deviation of effect e of grouping g, in inner units. */
function deviationProfile(solved: Solved, g: number, e: number): Profile {
  const { model, curvature } = solved;
  const { parameters } = model.criterion;
  const row = parameters.map(({ group, row: i }) => group === g && i === e);
  const minimum = warmMinimiser(model, curvature.theta);
  const square = (theta: Float64Array): number => theta.reduce((sum, x, k) => sum + (row[k] ? x * x : 0), 0);
  return (held) =>
    minimum(
      heldVariance(
        model,
        (theta) => (held * held) / square(theta),
        (theta) => theta.map((x, k) => (row[k] ? (-2 * x) / square(theta) : 0)),
      ),
    );
}

/** The lowest -2 log-likelihood with an effect left out. */
function withoutEffect({ model, curvature }: Solved, g: number, e: number): number {
  const { criterion } = model;
  const held = new Set(
    criterion.parameters.flatMap(({ group, row, column }, k) =>
      group === g && (row === e || column === e) ? [k] : [],
    ),
  );
  return warmMinimiser(model, curvature.theta)(profiledVariance(model), held);
}

/** Inner -2 log-likelihood with sigma profiled out, on the scale of {@link heldVariance}. */
function profiledVariance({ criterion, degreesOfFreedom: df }: Model): Objective {
  return { value: (theta) => criterion.value(theta) + df * (1 - Math.log(df)), gradient: () => criterion.gradient() };
}

/**
 * Profile of the correlation of the first two effects of a block: their rows of the factor are (a, 0) and
 * `s (rho, sqrt(1 - rho^2))`.
 */
function correlationProfile({ model, curvature }: Solved, g: number, first: number, second: number): Profile {
  const { criterion } = model;
  const at = (row: number, column: number): number =>
    criterion.parameters.findIndex((one) => one.group === g && one.row === row && one.column === column);
  const [across, pivot] = [at(second, first), at(second, second)];
  const whole = profiledVariance(model);
  const start = curvature.theta.slice();
  start[pivot] = Math.hypot(start[across]!, start[pivot]!);
  const minimum = warmMinimiser(model, start);
  return (rho) => {
    const rest = Math.sqrt(1 - rho * rho);
    return minimum(
      {
        value(theta) {
          if (!(theta[at(first, first)]! >= 0 && theta[pivot]! >= 0)) return Infinity;
          const turned = theta.slice();
          turned[across] = theta[pivot]! * rho;
          turned[pivot] = theta[pivot]! * rest;
          return whole.value(turned);
        },
        gradient() {
          const gradient = whole.gradient().slice();
          gradient[pivot] = gradient[across]! * rho + gradient[pivot]! * rest;
          return gradient;
        },
      },
      new Set([across]),
    );
  };
}

/** The same data with two effects of a grouping moved to the front of it. */
function withFirst(data: ModelData, g: number, first: number, second: number): ModelData {
  const groupings = data.groupings.map((grouping, k): Grouping => {
    if (k !== g) return grouping;
    const order = [first, second, ...grouping.effects.map((_, e) => e).filter((e) => e !== first && e !== second)];
    const pick = <T>(values: readonly T[]): T[] => order.map((e) => values[e]!);
    return { ...grouping, effects: pick(grouping.effects), values: pick(grouping.values), block: pick(grouping.block) };
  });
  return { ...data, groupings };
}

/** The data with a fixed column taken out and `held` times it taken off the response. */
function withHeld(data: ModelData, column: number, held: number): ModelData {
  const { design } = data;
  const response = data.response.slice();
  const start = new Int32Array(design.start.length);
  const [columns, values]: [number[], number[]] = [[], []];
  for (let row = 0; row < response.length; row++) {
    for (let at = design.start[row]!; at < design.start[row + 1]!; at++) {
      const j = design.columns[at]!;
      if (j === column) response[row]! -= held * design.values[at]!;
      else {
        columns.push(j < column ? j : j - 1);
        values.push(design.values[at]!);
      }
    }
    start[row + 1] = columns.length;
  }
  return {
    ...data,
    response,
    design: {
      names: design.names.filter((_, j) => j !== column),
      start,
      columns: Int32Array.from(columns),
      values: Float64Array.from(values),
    },
  };
}

/**
 * Profile-likelihood intervals by maximum likelihood for standard deviations, correlations, sigma and fixed
 * coefficients: the values that the likelihood-ratio test does not reject. A limit at the end of a parameter's range (0, -1,
 * 1) is exactly that. Venzon & Moolgavkar (1988), Applied Statistics 37, 87-94.
 *
 * @param level level of the intervals, default 0.95
 * @throws {RangeError} as `fitMixed`
 */
export function profileIntervals(columns: Columns, description: MixedDescription, level = 0.95): ParameterInterval[] {
  const data = readModel(columns, description);
  const solved = solveMixed(data, { method: 'ML' });
  const { model, curvature, fit } = solved;
  const rise = normalQuantile((1 + level) / 2) ** 2;
  const df = model.degreesOfFreedom;
  const lowest = curvature.value + df * (1 - Math.log(df));
  const both = (profile: Profile, estimate: number, walk: Walk, bottom = lowest): [number, number] => [
    limit(profile, { estimate, lowest: bottom, rise, side: -1, walk }),
    limit(profile, { estimate, lowest: bottom, rise, side: 1, walk }),
  ];
  const intervals: ParameterInterval[] = [];
  data.groupings.forEach(({ name, effects, block }, g) => {
    const { standardDeviations, correlations } = fit.random[g]!;
    effects.forEach((effect, e) => {
      const estimate = standardDeviations[e]!;
      const unit = model.basis.responseScale / model.effectScale[g]![e]!;
      const touchesZero = withoutEffect(solved, g, e) - lowest <= rise;
      const profile = deviationProfile(solved, g, e);
      const from = estimate > 0 ? estimate / unit : 1e-3;
      const low = touchesZero
        ? 0
        : limit(profile, { estimate: from, lowest, rise, side: -1, walk: logarithmic }) * unit;
      const high = limit(profile, { estimate: from, lowest, rise, side: 1, walk: logarithmic }) * unit;
      intervals.push({ kind: 'standard deviation', group: name, of: [effect], estimate, low, high });
    });
    effects.forEach((second, j) => {
      effects.slice(0, j).forEach((first, i) => {
        const estimate = correlations[i]![j]!;
        if (block[i] !== block[j] || Number.isNaN(estimate)) return;
        const turned = effects.length === 2 ? solved : solveMixed(withFirst(data, g, i, j), { method: 'ML' });
        const inside = Math.max(-0.999, Math.min(0.999, estimate));
        const [low, high] = both(correlationProfile(turned, g, 0, 1), inside, fisher);
        intervals.push({
          kind: 'correlation',
          group: name,
          of: [first, second],
          estimate,
          low: estimate === -1 ? -1 : low,
          high: estimate === 1 ? 1 : high,
        });
      });
    });
  });

  const scale = model.basis.responseScale;
  const minimum = warmMinimiser(model, curvature.theta);
  const sigmaProfile: Profile = (held) =>
    minimum(
      heldVariance(
        model,
        () => held * held,
        (theta) => new Float64Array(theta.length),
      ),
    );
  const [low, high] = both(sigmaProfile, fit.sigma / scale, logarithmic);
  intervals.push({ kind: 'sigma', group: '', of: [], estimate: fit.sigma, low: low * scale, high: high * scale });

  fit.fixed.forEach(({ term, estimate, standardError }) => {
    const column = data.design.names.indexOf(term);
    const profile: Profile = (held) => {
      const part = prepareModel(withHeld(data, column, held), 'ML');
      const { theta } = findOptimum(part.criterion, part.data.groupings);
      const { logDet, residual } = requireEvaluation(part.criterion, theta);
      return fullCriterion(part, logDet, residual);
    };
    const walk: Walk = { to: (x) => x, from: (x) => x, step: 2 * standardError, ends: [null, null] };
    const [from, to] = both(profile, estimate, walk, fit.criterion);
    intervals.push({ kind: 'fixed', group: '', of: [term], estimate, low: from, high: to });
  });
  return intervals;
}
