import { rowsByLevel, type CrossProducts } from './cross-products.ts';
import { criterionParts, factorise, prepareFactor, refreshRoot, type Factor, type Lambda } from './factor.ts';
import { slopes, type Slopes } from './gradient.ts';

/** The sums over the levels of each grouping that derivatives and the EM step are made of; see {@link Slopes}. */
export type LevelSums = Pick<Slopes, 'logDet' | 'residual' | 'spread' | 'outer'>;

/** What evaluates a model: all its nodes one by one, or with the finest grouping summed up beforehand. */
export interface Engine {
  /** The factor whose root holds the fixed part. */
  readonly factor: Factor;
  /** Log-determinants of the random and the fixed part and the penalised residual; null when not positive definite. */
  evaluate(lambda: Lambda): ReturnType<typeof criterionParts> | null;
  /** At the point last evaluated. */
  slopes(method: 'REML' | 'ML'): LevelSums;
  /** At the point last evaluated: spherical effects and inner fixed coefficients, and `b = Lambda u`; see {@link Slopes}. */
  solution(): Pick<Slopes, 'x' | 'modes'>;
}

/** Evaluates node by node. */
export function plainEngine(factor: Factor): Engine {
  return {
    factor,
    evaluate: (lambda) => (factorise(factor, lambda) ? criterionParts(factor) : null),
    slopes: (method) => slopes(factor, method),
    solution: () => slopes(factor, 'REML'),
  };
}

/**
 * Levels of the finest grouping that count alike in the same places: of a level with cross-product n with itself and
 * row `a` with everything after it, only `a a'` enters the criterion, times `theta^2 / (1 + theta^2 n)`. So the levels
 * of equal n under one node are summed to one chunk, shaped as the panel of that node (or as the fixed part).
 */
interface Chunks {
  /** The distinct n, and how many levels have each. */
  readonly counts: readonly number[];
  readonly levels: readonly number[];
  /** Class of each chunk. */
  readonly classOf: Int32Array;
  /** Where in the panel (or, from `panelLength` on, in the fixed part) each chunk belongs, and its extent in `sums`. */
  readonly target: Float64Array;
  readonly start: Float64Array;
  readonly sums: Float64Array;
}

/** Levels are summed unless the chunks would be longer than this many numbers a level; more, and eliminating is quicker. */
const longestPerLevel = 40;

/** For each level of the finest grouping its node in each other grouping; null when it is not nested in all of them. */
function ancestors({
  nodeBase,
  scalarBase,
  size,
  groupCount,
  rowStart,
  rows,
  randomScalars,
}: CrossProducts): Int32Array[] | null {
  const leaves = nodeBase[1]!;
  const above = Array.from({ length: groupCount - 1 }, () => new Int32Array(leaves));
  for (let leaf = 0; leaf < leaves; leaf++) {
    let k = rowStart[leaf]!;
    for (let h = 1; h < groupCount; h++) {
      const scalar = rows[k]!;
      if (scalar >= scalarBase[h + 1]!) return null;
      above[h - 1]![leaf] = nodeBase[h]! + (scalar - scalarBase[h]!) / size[h]!;
      k += size[h]!;
    }
    if (rows[k]! < randomScalars) return null;
  }
  return above;
}

/** Numbers the distinct self-products of the levels. */
function classesOf(products: CrossProducts): Pick<Chunks, 'counts' | 'levels' | 'classOf'> {
  const leaves = products.nodeBase[1]!;
  const known = new Map<number, number>();
  const classOf = new Int32Array(leaves);
  const levels: number[] = [];
  for (let leaf = 0; leaf < leaves; leaf++) {
    const n = products.panel[products.panelStart[leaf]!]!;
    let at = known.get(n);
    if (at === undefined) {
      known.set(n, (at = known.size));
      levels.push(0);
    }
    levels[at]!++;
    classOf[leaf] = at;
  }
  return { counts: [...known.keys()], levels, classOf };
}

function chunksOf(products: CrossProducts): Chunks | null {
  const { groupCount, size, nodeBase, scalarBase, rowStart, rows, panelStart, panel, randomScalars, fixedCount } =
    products;
  if (groupCount === 0 || size[0] !== 1) return null;
  const above = ancestors(products);
  if (!above) return null;
  const { classOf, counts, levels } = classesOf(products);
  const leaves = nodeBase[1]!;
  const shift = panelStart[leaves]!;
  const panelLength = panelStart[nodeBase[groupCount]!]! - shift;
  const target: number[] = [];
  const start: number[] = [0];
  let sums = new Float64Array(1024);
  const place = new Int32Array(randomScalars + fixedCount + 1);
  const chunkOf = new Float64Array(counts.length);
  const nodeOfChunk = new Int32Array(counts.length).fill(-1);
  const side = fixedCount + 1;
  const longest = longestPerLevel * leaves + 1e6;
  if (counts.length * side * side > longest) return null;
  const kinds: number[] = [];
  const open = (kind: number, at: number, length: number): number => {
    kinds.push(kind);
    const from = start[start.length - 1]!;
    if (from + length > sums.length) {
      const larger = new Float64Array(Math.max(from + length, sums.length * 2));
      larger.set(sums);
      sums = larger;
    }
    target.push(at);
    start.push(from + length);
    return from;
  };
  for (const [h, nodes] of above.entries()) {
    const m = size[h + 1]!;
    let node = -1;
    for (const leaf of rowsByLevel(nodes, nodeBase[h + 1]!, nodeBase[h + 2]! - nodeBase[h + 1]!).order) {
      if (nodes[leaf] !== node) {
        node = nodes[leaf]!;
        const own = scalarBase[h + 1]! + (node - nodeBase[h + 1]!) * m;
        for (let e = 0; e < m; e++) place[own + e] = e * m;
        for (let k = rowStart[node]!; k < rowStart[node + 1]!; k++) place[rows[k]!] = (m + k - rowStart[node]!) * m;
      }
      const kind = classOf[leaf]!;
      if (nodeOfChunk[kind] !== node) {
        nodeOfChunk[kind] = node;
        chunkOf[kind] = open(kind, panelStart[node]! - shift, panelStart[node + 1]! - panelStart[node]!);
      }
      const base = chunkOf[kind]!;
      const own = scalarBase[h + 1]! + (node - nodeBase[h + 1]!) * m;
      const from = panelStart[leaf]! + 1;
      const first = rowStart[leaf]!;
      let k = first;
      while (rows[k]! < own) k++;
      for (let e = 0; e < m; e++) {
        const left = panel[from + k - first + e]!;
        for (let i = k; i < rowStart[leaf + 1]!; i++)
          sums[base + place[rows[i]!]! + e]! += left * panel[from + i - first]!;
      }
    }
    if (start[start.length - 1]! > longest) return null;
  }
  const fixedChunks = counts.map((_, kind) => open(kind, panelLength, side * side));
  for (let leaf = 0; leaf < leaves; leaf++) {
    const base = fixedChunks[classOf[leaf]!]!;
    const first = rowStart[leaf]!;
    const from = panelStart[leaf]! + 1;
    let k = first;
    while (rows[k]! < randomScalars) k++;
    for (let i = k; i < rowStart[leaf + 1]!; i++) {
      const line = base + (rows[i]! - randomScalars) * side;
      const left = panel[from + i - first]!;
      for (let j = k; j <= i; j++) sums[line + rows[j]! - randomScalars]! += left * panel[from + j - first]!;
    }
  }
  return {
    counts,
    levels,
    classOf: Int32Array.from(kinds),
    target: Float64Array.from(target),
    start: Float64Array.from(start),
    sums,
  };
}

/** The model without its finest grouping; `panel` and `fixed` are parts of `values` and change with every evaluation. */
function withoutFinest(products: CrossProducts, values: Float64Array, panelLength: number): CrossProducts {
  const { nodeBase, scalarBase, size, rowStart, rows, panelStart } = products;
  const leaves = nodeBase[1]!;
  const scalars = scalarBase[1]!;
  const firstRow = rowStart[leaves]!;
  return {
    groupCount: products.groupCount - 1,
    nodeBase: nodeBase.slice(1).map((node) => node - leaves),
    scalarBase: scalarBase.slice(1).map((scalar) => scalar - scalars),
    size: size.slice(1),
    randomScalars: products.randomScalars - scalars,
    fixedCount: products.fixedCount,
    rowStart: rowStart.slice(leaves).map((row) => row - firstRow),
    rows: rows.slice(firstRow).map((scalar) => scalar - scalars),
    panelStart: panelStart.slice(leaves).map((at) => at - panelStart[leaves]!),
    panel: values.subarray(0, panelLength),
    fixed: values.subarray(panelLength),
  };
}

/** Evaluates with the finest grouping summed up: each evaluation costs as many steps as there are coarser levels. */
function summedEngine(products: CrossProducts, { counts, levels, classOf, target, start, sums }: Chunks): Engine {
  const leaves = products.nodeBase[1]!;
  const shift = products.panelStart[leaves]!;
  const panelLength = products.panel.length - shift;
  const plain = new Float64Array(panelLength + products.fixed.length);
  plain.set(products.panel.subarray(shift));
  plain.set(products.fixed, panelLength);
  const values = plain.slice();
  const factor = prepareFactor(withoutFinest(products, values, panelLength));
  const slopeOfLogDet = new Float64Array(values.length);
  const slopeOfResidual = new Float64Array(values.length);
  let theta = 0;
  return {
    factor,
    evaluate(lambda) {
      theta = lambda[0]![0]!;
      values.set(plain);
      const weight = counts.map((n) => (theta * theta) / (1 + theta * theta * n));
      for (let chunk = 0; chunk < target.length; chunk++) {
        const part = weight[classOf[chunk]!]!;
        for (let from = start[chunk]!, to = target[chunk]!; from < start[chunk + 1]!; from++, to++)
          values[to]! -= part * sums[from]!;
      }
      refreshRoot(factor);
      if (!factorise(factor, lambda.slice(1))) return null;
      const parts = criterionParts(factor);
      const own = counts.reduce((sum, n, kind) => sum + levels[kind]! * Math.log1p(theta * theta * n), 0);
      return { ...parts, logDetRandom: parts.logDetRandom + own };
    },
    slopes(method) {
      const coarser = slopes(factor, method, { logDet: slopeOfLogDet, residual: slopeOfResidual });
      const [logDet, residual] = [new Float64Array(counts.length), new Float64Array(counts.length)];
      for (let chunk = 0; chunk < target.length; chunk++) {
        let [one, other] = [0, 0];
        for (let from = start[chunk]!, to = target[chunk]!; from < start[chunk + 1]!; from++, to++) {
          one += sums[from]! * slopeOfLogDet[to]!;
          other += sums[from]! * slopeOfResidual[to]!;
        }
        logDet[classOf[chunk]!]! += one;
        residual[classOf[chunk]!]! += other;
      }
      const own = { logDet: 0, residual: 0, spread: 0, outer: 0 };
      counts.forEach((n, kind) => {
        const pivot = 1 + theta * theta * n;
        own.logDet += (theta * (n * levels[kind]! - logDet[kind]! / pivot)) / pivot;
        own.residual += (theta * residual[kind]!) / (pivot * pivot);
        own.spread += levels[kind]! / pivot + (theta / pivot) ** 2 * logDet[kind]!;
        own.outer += (theta / pivot) ** 2 * residual[kind]!;
      });
      const joined = (key: keyof LevelSums): Float64Array[] => [Float64Array.of(own[key]), ...coarser[key]];
      return {
        logDet: joined('logDet'),
        residual: joined('residual'),
        spread: joined('spread'),
        outer: joined('outer'),
      };
    },
    solution() {
      const { x: coarser, modes: above } = slopes(factor, 'REML');
      const x = new Float64Array(leaves + coarser.length);
      const modes = new Float64Array(leaves + above.length);
      x.set(coarser, leaves);
      modes.set(above, leaves);
      const { rowStart, rows, panelStart, panel, randomScalars, fixedCount } = products;
      for (let leaf = 0; leaf < leaves; leaf++) {
        let at = panelStart[leaf]!;
        const n = panel[at++]!;
        let moment = 0;
        for (let k = rowStart[leaf]!; k < rowStart[leaf + 1]!; k++, at++) {
          const met = rows[k]!;
          if (met === randomScalars + fixedCount) moment += panel[at]!;
          else moment -= panel[at]! * (met < randomScalars ? modes[met]! : x[met]!);
        }
        x[leaf] = (theta * moment) / (1 + theta * theta * n);
        modes[leaf] = theta * x[leaf]!;
      }
      return { x, modes };
    },
  };
}

/**
 * The engine for a model: the finest grouping is summed up when it is scalar and nested in all others. `factor` is that of
 * all levels, prepared when first asked for.
 */
export function engineOf(products: CrossProducts): { readonly engine: Engine; readonly factor: () => Factor } {
  const chunks = chunksOf(products);
  let whole = chunks ? null : prepareFactor(products);
  return {
    engine: chunks ? summedEngine(products, chunks) : plainEngine(whole!),
    factor: () => (whole ??= prepareFactor(products)),
  };
}
