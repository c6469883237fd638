import logGamma from '@stdlib/math-base-special-gammaln';
import { combine, labelColumn } from './columns.ts';
import type { RandomPart } from './combine.ts';
import type { Columns, MixedDescription, MixedOptions } from './description.ts';
import { solveMixed, type MixedFit, type Solved } from './fit-mixed.ts';
import { readModel, type ModelData } from './model.ts';
import type { Grouping } from './random-design.ts';

export interface StudentOptions extends MixedOptions {
  /** Columns whose combined labels are the groups that may be outlying. */
  readonly group: readonly string[];
  /** Degrees of freedom of the t distribution, from 1 up; or `'chosen'`, those of greatest likelihood. Default 4. */
  readonly nu?: number | 'chosen';
}

/** What the t distribution makes of one group. */
export interface GroupWeight {
  readonly group: string;
  readonly readings: number;
  /** Squared Mahalanobis distance of the group's readings from their mean, about `readings` for a sound group. */
  readonly distance: number;
  /** About 1 for a sound group, small for an outlying one. */
  readonly weight: number;
}

export interface StudentFit {
  /**
   * The fit at the final weights, fitted values and residuals in the units of the response. Standard deviations are scale
   * parameters of the t distribution; for nu > 2 a standard deviation proper is larger by sqrt(nu / (nu - 2)).
   */
  readonly fit: MixedFit;
  /** Degrees of freedom used; Infinity where the normal distribution is the most likely. */
  readonly nu: number;
  readonly groups: readonly GroupWeight[];
  /** Groups of weight below 1/2, lightest first. */
  readonly downWeighted: readonly GroupWeight[];
  readonly iterations: number;
  readonly converged: boolean;
}

const mostIterations = 500;
const settled = 1e-8;

/** For each row its group, and for each grouping whether its levels lie inside single groups. */
interface Frame {
  readonly codes: Int32Array;
  readonly labels: readonly string[];
  readonly readings: Float64Array;
  readonly isInside: readonly boolean[];
}

function frameOf(
  columns: Columns,
  data: ModelData,
  { group, count }: { group: readonly string[]; count: string | undefined },
): Frame {
  const length = data.response.length;
  const { codes, labels } = combine(group.map((name) => labelColumn(columns, name, 'the robust groups', length)));
  const readings = new Float64Array(labels.length);
  for (let row = 0; row < length; row++)
    readings[codes[row]!]! += count === undefined ? 1 : Number(columns[count]![row]);
  const isInside = data.groupings.map((grouping) => {
    const first = new Int32Array(grouping.labels.length).fill(-1);
    return grouping.codes.every((level, row) => {
      if (first[level] === -1) first[level] = codes[row]!;
      return first[level] === codes[row];
    });
  });
  return { codes, labels, readings, isInside };
}

/**
 * The data as seen with group weights w: a group's whole covariance is divided by w, so response, fixed columns and the
 * covariates of groupings that reach beyond the group are multiplied by sqrt(w), those of groupings inside it are not.
 */
function weightedData(data: ModelData, { codes, isInside }: Frame, weights: Float64Array): ModelData {
  const rowRoot = Float64Array.from(codes, (code) => Math.sqrt(weights[code]!));
  const { design } = data;
  const values = design.values.slice();
  for (let row = 0; row < rowRoot.length; row++)
    for (let at = design.start[row]!; at < design.start[row + 1]!; at++) values[at]! *= rowRoot[row]!;
  return {
    ...data,
    response: data.response.map((y, row) => y * rowRoot[row]!),
    design: { ...design, values },
    groupings: data.groupings.map((grouping, g): Grouping =>
      isInside[g]
        ? grouping
        : { ...grouping, values: grouping.values.map((z) => rowRoot.map((root, row) => root * (z?.[row] ?? 1))) },
    ),
  };
}

/** Squared distances of the groups at a fit to weighted data: penalised residuals over sigma^2, the weight taken out. */
function distances(
  { model, solution, fit }: Solved,
  { codes, isInside, labels }: Frame,
  weights: Float64Array,
): Float64Array {
  const { data, products } = model;
  const squares = new Float64Array(labels.length);
  fit.residuals.forEach((rest, row) => (squares[codes[row]!]! += (data.weights?.[row] ?? 1) * rest * rest));
  data.groupings.forEach(({ codes: levels, labels: names, size: m }, g) => {
    if (!isInside[g]) return;
    const base = products.scalarBase[g]!;
    const seen = new Uint8Array(names.length);
    levels.forEach((level, row) => {
      if (seen[level] === 1) return;
      seen[level] = 1;
      for (let e = 0; e < m; e++) squares[codes[row]!]! += solution.spherical[base + level * m + e]! ** 2;
    });
  });
  return squares.map((square, k) => square / fit.sigma ** 2 / weights[k]!);
}

/** The part of the log-likelihood of nu that the distances decide. */
function logLikelihood(nu: number, distance: Float64Array, readings: Float64Array): number {
  let sum = 0;
  distance.forEach((d, k) => {
    const n = readings[k]!;
    sum += logGamma((nu + n) / 2) - logGamma(nu / 2) - (n / 2) * Math.log(nu) - ((nu + n) / 2) * Math.log1p(d / nu);
  });
  return sum;
}

const mostNu = 500;

/** nu of greatest likelihood by golden-section search on log nu from 1 to 500; Infinity at the upper end. */
function chooseNu(distance: Float64Array, readings: Float64Array): number {
  const golden = (Math.sqrt(5) - 1) / 2;
  const at = (log: number): number => logLikelihood(Math.exp(log), distance, readings);
  let [low, high] = [0, Math.log(mostNu)];
  while (high - low > 1e-6) {
    const [left, right] = [high - golden * (high - low), low + golden * (high - low)];
    if (at(left) > at(right)) high = right;
    else low = left;
  }
  const nu = Math.exp((low + high) / 2);
  return nu > 0.99 * mostNu ? Infinity : nu;
}

/**
 * The fit in the units of the data: with its group's covariance divided by w, a random effect inside the group is
 * `1 / sqrt(w)` times what the weighted data show.
 */
function unweighted(
  { fit }: Solved,
  data: ModelData,
  { frame, weights }: { frame: Frame; weights: Float64Array },
): MixedFit {
  const { codes, isInside } = frame;
  const factors = data.groupings.map(({ codes: levels, labels }, g) => {
    const factor = new Float64Array(labels.length).fill(1);
    if (isInside[g]) levels.forEach((level, row) => (factor[level] = 1 / Math.sqrt(weights[codes[row]!]!)));
    return factor;
  });
  const placeOf = data.groupings.map(({ labels }) => new Map(labels.map((label, at) => [label, at])));
  const scaled = (part: RandomPart): RandomPart => {
    if ('new' in part.level) return part;
    const { level } = part;
    const g = data.groupings.findIndex(
      ({ columns }) => columns.length === part.group.length && columns.every((column) => part.group.includes(column)),
    );
    const label = data.groupings[g]?.columns.map((column) => String(level[part.group.indexOf(column)])).join(':') ?? '';
    return { ...part, coefficient: (part.coefficient ?? 1) * (factors[g]?.[placeOf[g]!.get(label) ?? -1] ?? 1) };
  };
  const fitted = fit.fitted.map((value, row) => value / Math.sqrt(weights[codes[row]!]!));
  return {
    ...fit,
    fitted,
    residuals: data.response.map((y, row) => y - fitted[row]!),
    modes: () =>
      fit.modes().map((modes, g) => {
        const times = (values: readonly Float64Array[]): Float64Array[] =>
          values.map((one) => one.map((x, at) => x * factors[g]![at]!));
        return {
          ...modes,
          modes: times(modes.modes),
          standardDeviations: times(modes.standardDeviations),
          predictionErrors: times(modes.predictionErrors),
        };
      }),
    combine: (combinations) =>
      fit.combine(combinations.map((one) => (one.random ? { ...one, random: one.random.map(scaled) } : one))),
  };
}

/**
 * Linear mixed model whose groups follow a multivariate t distribution, so that an outlying group counts for less: its
 * random effects and errors together have covariance V_i / w_i with w_i gamma distributed. The weights
 * `(nu + n_i) / (nu + d_i^2)` and the fit are found in turn (ECME). No group is dropped.
 * Pinheiro, Liu & Wu (2001), J. Comput. Graph. Stat. 10, 249-276; Lange, Little & Taylor (1989), J. Am. Stat. Assoc. 84,
 * 881-896.
 *
 * Random effects of groupings that reach beyond a group (coarser or crossed) are normal, and a group's distance is taken
 * from their conditional modes. Standard errors are those of the fit with the weights as given.
 *
 * @throws {RangeError} as `fitMixed`, and for nu below 1
 */
export function fitStudent(columns: Columns, description: MixedDescription, options: StudentOptions): StudentFit {
  const { group, nu: asked = 4 } = options;
  if (asked !== 'chosen' && !(asked >= 1))
    throw new RangeError(
      `Cannot fit a t distribution with ${asked} degrees of freedom; expected 1 or more, or 'chosen'`,
    );
  const data = readModel(columns, description);
  const frame = frameOf(columns, data, { group, count: description.repeats?.count });
  let weights = new Float64Array(frame.labels.length).fill(1);
  let nu = asked === 'chosen' ? 4 : asked;
  let solved = solveMixed(data, options);
  let distance = distances(solved, frame, weights);
  let iterations = 0;
  let converged = false;
  while (!converged && iterations < mostIterations) {
    iterations++;
    if (asked === 'chosen') nu = chooseNu(distance, frame.readings);
    const next = distance.map((d, k) => (Number.isFinite(nu) ? (nu + frame.readings[k]!) / (nu + d) : 1));
    converged = next.every((w, k) => Math.abs(w - weights[k]!) <= settled * w);
    weights = next;
    solved = solveMixed(weightedData(data, frame, weights), options);
    distance = distances(solved, frame, weights);
  }
  const groups = frame.labels.map((label, k): GroupWeight => ({
    group: label,
    readings: frame.readings[k]!,
    distance: distance[k]!,
    weight: weights[k]!,
  }));
  return {
    fit: unweighted(solved, data, { frame, weights }),
    nu,
    groups,
    downWeighted: groups.filter(({ weight }) => weight < 0.5).sort((a, b) => a.weight - b.weight),
    iterations,
    converged,
  };
}
