import { lambdaOf } from './criterion.ts';
import { satterthwaite, type Curvature } from './curvature.ts';
import { factorise, type Factor } from './factor.ts';
import { infer, type Inference } from './inference.ts';
import type { Model } from './model.ts';

/** A level of a grouping by its labels, in the order of the grouping columns; or one that is not in the data. */
export type Level = readonly (string | number)[] | { readonly new: string };

/** A multiple of one random effect of one level. */
export interface RandomPart {
  readonly group: readonly string[];
  readonly level: Level;
  readonly effect: string;
  /** Default 1. */
  readonly coefficient?: number;
}

/**
 * A linear combination of fixed coefficients and random effects. `fixed` gives coefficients by term name, others count
 * 0, and so does a term that was dropped. Random effects of new levels are predicted as 0 and add their variance; the
 * same new name in the same grouping is the same level.
 */
export interface Combination {
  readonly label?: string;
  readonly fixed?: Readonly<Record<string, number>>;
  readonly random?: readonly RandomPart[];
}

/** One combination; fixed coefficients and variance of prediction together make its standard error. */
export interface CombinedEstimate extends Inference {
  readonly label: string;
}

export interface Combined {
  readonly estimates: readonly CombinedEstimate[];
  /** Covariance matrix of the errors (estimate - truth), in the order of the combinations. */
  readonly covariance: readonly Float64Array[];
}

/** A combination in inner coordinates: random scalars and their multiples, fixed multiples, and the new levels it uses. */
interface InnerCombination {
  readonly nodes: ReadonlyMap<number, Float64Array>;
  readonly fixed: Float64Array;
  readonly fresh: readonly { readonly group: number; readonly name: string; readonly values: Float64Array }[];
}

/** Sparse solution of `L z = a`: blocks of node after node, and the root. */
interface HalfSolution {
  readonly nodes: readonly number[];
  readonly blocks: readonly Float64Array[];
  readonly root: Float64Array;
}

/** Reads the level labels of groupings once each. */
function levelReader(model: Model): (group: readonly string[], level: readonly (string | number)[]) => number {
  const known = new Map<number, Map<string, number>>();
  return (group, level) => {
    const g = groupingAt(model, group);
    const { columns, labels, name } = model.data.groupings[g]!;
    let codes = known.get(g);
    if (!codes) known.set(g, (codes = new Map(labels.map((label, code) => [label, code]))));
    const wanted = columns.map((column) => String(level[group.indexOf(column)])).join(':');
    const code = codes.get(wanted);
    if (code === undefined)
      throw new RangeError(
        `Cannot combine: ${name} has no level "${wanted}" in the data; name it as a new level if it is one`,
      );
    return code;
  };
}

function groupingAt({ data }: Model, group: readonly string[]): number {
  const wanted = JSON.stringify([...group].sort());
  const at = data.groupings.findIndex(({ columns }) => JSON.stringify([...columns].sort()) === wanted);
  if (at < 0)
    throw new RangeError(
      `Cannot combine: no grouping by ${group.join(':')}; the groupings are ${data.groupings.map(({ name }) => name).join(', ')}`,
    );
  return at;
}

function toInnerCombination(
  model: Model,
  readLevel: ReturnType<typeof levelReader>,
  { fixed = {}, random = [] }: Combination,
): InnerCombination {
  const { design, groupings } = model.data;
  const { basis, effectScale } = model;
  const { nodeBase } = model.products;
  for (const term of Object.keys(fixed))
    if (!design.names.includes(term))
      throw new RangeError(`Cannot combine: no fixed term "${term}"; the terms are ${design.names.join(', ')}`);
  const nodes = new Map<number, Float64Array>();
  const fresh: { group: number; name: string; values: Float64Array }[] = [];
  for (const { group, level, effect, coefficient = 1 } of random) {
    const g = groupingAt(model, group);
    const { effects, size, name } = groupings[g]!;
    const e = effects.indexOf(effect);
    if (e < 0)
      throw new RangeError(`Cannot combine: ${name} has no random effect "${effect}"; it has ${effects.join(', ')}`);
    const inner = coefficient / effectScale[g]![e]!;
    if ('new' in level) {
      let entry = fresh.find((known) => known.group === g && known.name === level.new);
      if (!entry) fresh.push((entry = { group: g, name: level.new, values: new Float64Array(size) }));
      entry.values[e]! += inner;
    } else {
      const node = nodeBase[g]! + readLevel(group, level);
      let values = nodes.get(node);
      if (!values) nodes.set(node, (values = new Float64Array(size)));
      values[e]! += inner;
    }
  }
  return { nodes, fixed: basis.toInner(basis.kept.map((j) => fixed[design.names[j]!] ?? 0)), fresh };
}

/** `Lambda' m` for a level's multiples m. */
function scaledByFactor(lambda: Float64Array, values: Float64Array): Float64Array {
  const m = values.length;
  return values.map((_, e) => {
    let sum = 0;
    for (let f = e; f < m; f++) sum += lambda[f * m + e]! * values[f]!;
    return sum;
  });
}

/** Forward solutions for combinations, along the path from their levels to the root only. */
function forwardSolver(factor: Factor): (combination: InnerCombination) => HalfSolution {
  const { products, elimination, panels, root, lambda } = factor;
  const { nodeBase, scalarBase, size, groupCount, randomScalars, fixedCount } = products;
  const { rootNode, rootScalar, rootSize: d, groupOf, parent, frontStart, frontRows, factorStart } = elimination;
  const work = new Float64Array(randomScalars + fixedCount + 1);
  return ({ nodes, fixed }) => {
    const path = new Set<number>();
    for (const [node, values] of nodes) {
      let g = 0;
      while (g + 1 < groupCount && node >= nodeBase[g + 1]!) g++;
      work.set(scaledByFactor(lambda[g]!, values), scalarBase[g]! + (node - nodeBase[g]!) * size[g]!);
      for (let at = node; at !== -1 && at < rootNode && !path.has(at); at = parent[at]!) path.add(at);
    }
    work.set(fixed, randomScalars);
    const order = [...path].sort((a, b) => a - b);
    const blocks = order.map((node) => {
      const g = groupOf[node]!;
      const m = size[g]!;
      const own = scalarBase[g]! + (node - nodeBase[g]!) * m;
      const at = factorStart[node]!;
      const block = new Float64Array(m);
      for (let e = 0; e < m; e++) {
        let sum = work[own + e]!;
        for (let f = 0; f < e; f++) sum -= panels[at + e * m + f]! * block[f]!;
        block[e] = sum / panels[at + e * m + e]!;
        work[own + e] = 0;
      }
      for (let k = frontStart[node]!, line = at + m * m; k < frontStart[node + 1]!; k++, line += m)
        for (let e = 0; e < m; e++) work[frontRows[k]!]! -= panels[line + e]! * block[e]!;
      return block;
    });
    const solution = work.slice(rootScalar, rootScalar + d - 1);
    work.fill(0, rootScalar);
    for (let i = 0; i < d - 1; i++) {
      for (let k = 0; k < i; k++) solution[i]! -= root[i * d + k]! * solution[k]!;
      solution[i]! /= root[i * d + i]!;
    }
    return { nodes: order, blocks, root: solution };
  };
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += a[i]! * b[i]!;
  return sum;
}

function product(a: HalfSolution, b: HalfSolution): number {
  let sum = dot(a.root, b.root);
  for (let i = 0, j = 0; i < a.nodes.length && j < b.nodes.length;) {
    const [left, right] = [a.nodes[i]!, b.nodes[j]!];
    if (left === right) sum += dot(a.blocks[i++]!, b.blocks[j++]!);
    else if (left < right) i++;
    else j++;
  }
  return sum;
}

/** Covariance over sigma^2 that two combinations share through new levels. */
function freshProduct(lambda: readonly Float64Array[], a: InnerCombination, b: InnerCombination): number {
  let sum = 0;
  for (const one of a.fresh)
    for (const other of b.fresh)
      if (one.group === other.group && one.name === other.name)
        sum += dot(scaledByFactor(lambda[one.group]!, one.values), scaledByFactor(lambda[other.group]!, other.values));
  return sum;
}

/** Random effects `b` scalar by scalar and fixed coefficients by design column, 0 where dropped, in real units. */
export interface Solution {
  readonly modes: Float64Array;
  readonly fixed: Float64Array;
}

function valuesOf(
  model: Model,
  combinations: readonly Combination[],
  inner: readonly InnerCombination[],
  solution: Solution,
): number[] {
  const { size, nodeBase, scalarBase, groupCount } = model.products;
  return combinations.map(({ fixed = {} }, i) => {
    let value = 0;
    model.data.design.names.forEach((name, j) => (value += (fixed[name] ?? 0) * solution.fixed[j]!));
    for (const [node, multiples] of inner[i]!.nodes) {
      let g = 0;
      while (g + 1 < groupCount && node >= nodeBase[g + 1]!) g++;
      const at = scalarBase[g]! + (node - nodeBase[g]!) * size[g]!;
      multiples.forEach((multiple, e) => (value += multiple * model.effectScale[g]![e]! * solution.modes[at + e]!));
    }
    return value;
  });
}

/**
 * The values of linear combinations alone, without their errors: a fraction of the work of {@link combineEffects}.
 *
 * @throws {RangeError} when a term, grouping, level or effect is not in the model
 */
export function predictEffects(model: Model, combinations: readonly Combination[], solution: Solution): number[] {
  const readLevel = levelReader(model);
  const inner = combinations.map((combination) => toInnerCombination(model, readLevel, combination));
  return valuesOf(model, combinations, inner, solution);
}

/**
 * Estimates of linear combinations of fixed coefficients and random effects, with the error of prediction from the
 * joint inverse of the mixed model equations: `sigma^2 a' M^-1 a` (Henderson 1975, Biometrics 31, 423-447;
 * Robinson 1991, Statistical Science 6, 15-32) and Satterthwaite's degrees of freedom.
 *
 * @throws {RangeError} when a term, grouping, level or effect is not in the model
 */
export function combineEffects(
  model: Model,
  curvature: Curvature,
  {
    combinations,
    level,
    solution,
  }: {
    readonly combinations: readonly Combination[];
    readonly level: number;
    readonly solution: Solution;
  },
): Combined {
  const { criterion, basis } = model;
  const { size } = model.products;
  const factor = model.factor();
  const { theta, free, steps, variance } = curvature;
  const readLevel = levelReader(model);
  const inner = combinations.map((combination) => toInnerCombination(model, readLevel, combination));
  const solveAt = (point: Float64Array): { halves: HalfSolution[]; lambda: Float64Array[] } => {
    const lambda = lambdaOf(point, criterion.parameters, size);
    if (!factorise(factor, lambda)) throw new RangeError('Cannot combine: the mixed model equations are singular');
    const solve = forwardSolver(factor);
    return { halves: inner.map(solve), lambda };
  };
  const variancesAt = (point: Float64Array): number[] => {
    const { halves, lambda } = solveAt(point);
    return halves.map((half, i) => product(half, half) + freshProduct(lambda, inner[i]!, inner[i]!));
  };
  const slopes = free.map((at, a) => {
    const [up, down] = [theta.slice(), theta.slice()];
    up[at]! += steps[a]!;
    down[at]! -= steps[a]!;
    const above = variancesAt(up);
    return variancesAt(down).map((below, i) => (above[i]! - below) / (2 * steps[a]!));
  });
  const { halves, lambda } = solveAt(theta);
  const scale = variance * basis.responseScale ** 2;
  const relative = halves.map((a, i) =>
    Float64Array.from(halves, (b, j) => (j <= i ? product(a, b) + freshProduct(lambda, inner[i]!, inner[j]!) : 0)),
  );
  relative.forEach((row, i) => {
    for (let j = 0; j < i; j++) relative[j]![i] = row[j]!;
  });
  const values = valuesOf(model, combinations, inner, solution);
  const estimates = combinations.map(({ label }, i): CombinedEstimate => {
    const estimate = values[i]!;
    const c = relative[i]![i]!;
    const standardError = Math.sqrt(c * scale);
    const df = satterthwaite(
      curvature,
      c,
      slopes.map((slope) => slope[i]!),
    );
    return { label: label ?? `${i + 1}`, ...infer({ estimate, standardError, df }, level) };
  });
  return { estimates, covariance: relative.map((row) => row.map((x) => x * scale)) };
}
