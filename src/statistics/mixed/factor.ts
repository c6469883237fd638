import type { CrossProducts } from './cross-products.ts';
import { eliminationOf, type Elimination } from './elimination.ts';

/** Relative covariance factors, one lower triangle a grouping, m by m row by row. */
export type Lambda = readonly Float64Array[];

/**
 * The factor `L` of the penalised cross-products
 * `[L'Z'WZL + I, L'Z'WX, L'Z'Wy; ., X'WX, X'Wy; ., ., y'Wy]` (L on the right being the relative covariance factor),
 * with the memory it is computed in, which later factorisations and solutions reuse.
 * See Bates, Maechler, Bolker & Walker (2015), J. Stat. Softw. 67(1), section 3; the fronts follow
 * Duff & Reid (1983), ACM Trans. Math. Softw. 9, 302-325.
 */
export interface Factor {
  readonly products: CrossProducts;
  readonly elimination: Elimination;
  /** Cross-products of the root, full square. */
  readonly rootProducts: Float64Array;
  /** Grouping and first place of each node in the root. */
  readonly rootNodes: readonly { readonly group: number; readonly at: number }[];
  readonly panels: Float64Array;
  readonly squares: Float64Array;
  readonly root: Float64Array;
  lambda: Lambda;
  /** Eliminates the nodes before the root; {@link factorise} calls it. */
  eliminate: () => boolean;
}

/** Groupings and places of the nodes that stand in the root. */
function nodesOfRoot(products: CrossProducts, { rootNode, rootScalar }: Elimination): { group: number; at: number }[] {
  const { nodeBase, scalarBase, size, groupCount } = products;
  const nodes: { group: number; at: number }[] = [];
  for (let group = 0; group < groupCount; group++)
    for (let node = Math.max(rootNode, nodeBase[group]!); node < nodeBase[group + 1]!; node++)
      nodes.push({ group, at: scalarBase[group]! + (node - nodeBase[group]!) * size[group]! - rootScalar });
  return nodes;
}

/** Reads the root's share of the cross-products again; needed after the products changed in place. */
export function refreshRoot({ products, elimination, rootProducts: root, rootNodes }: Factor): void {
  const { nodeBase, scalarBase, size, rowStart, rows, panelStart, panel, fixedCount: p, fixed } = products;
  const { rootScalar, rootSize: d } = elimination;
  for (const { group, at } of rootNodes) {
    const m = size[group]!;
    const node = nodeBase[group]! + (at + rootScalar - scalarBase[group]!) / m;
    let from = panelStart[node]!;
    const put = (i: number): void => {
      for (let e = 0; e < m; e++) root[i * d + at + e] = root[(at + e) * d + i] = panel[from++]!;
    };
    for (let e = 0; e < m; e++) put(at + e);
    for (let k = rowStart[node]!; k < rowStart[node + 1]!; k++) put(rows[k]! - rootScalar);
  }
  const base = d - p - 1;
  for (let i = 0; i <= p; i++)
    for (let j = 0; j <= i; j++)
      root[(base + i) * d + base + j] = root[(base + j) * d + base + i] = fixed[i * (p + 1) + j]!;
}

/** Finds the elimination order and sets the memory aside; {@link factorise} fills it. */
export function prepareFactor(products: CrossProducts): Factor {
  const elimination = eliminationOf(products);
  const rootLength = elimination.rootSize ** 2;
  const factor: Factor = {
    products,
    elimination,
    rootProducts: new Float64Array(rootLength),
    rootNodes: nodesOfRoot(products, elimination),
    panels: new Float64Array(elimination.factorStart[elimination.rootNode]!),
    squares: new Float64Array(elimination.squareLength),
    root: new Float64Array(rootLength),
    lambda: [],
    eliminate: () => false,
  };
  factor.eliminate = eliminationSteps(factor);
  refreshRoot(factor);
  return factor;
}

/** Multiplies rows `at..at + m` of `a` (width columns) by the transpose of a lower triangle, in place. */
function transposeTimes(triangle: Float64Array, m: number, a: Float64Array, at: number, width: number): void {
  for (let e = 0; e < m; e++)
    for (let c = 0; c < width; c++) {
      let sum = 0;
      for (let f = e; f < m; f++) sum += triangle[f * m + e]! * a[at + f * width + c]!;
      a[at + e * width + c] = sum;
    }
}

/** In place Cholesky factor of the lower triangle of a dense n-square; false when it is not positive definite. */
export function choleskyInPlace(a: Float64Array, n: number): boolean {
  for (let i = 0; i < n; i++) {
    const ri = i * n;
    for (let j = 0; j < i; j++) {
      const rj = j * n;
      let sum = a[ri + j]!;
      for (let k = 0; k < j; k++) sum -= a[ri + k]! * a[rj + k]!;
      a[ri + j] = sum / a[rj + j]!;
    }
    let pivot = a[ri + i]!;
    for (let k = 0; k < i; k++) pivot -= a[ri + k]! * a[ri + k]!;
    if (!(pivot > 0)) return false;
    a[ri + i] = Math.sqrt(pivot);
  }
  return true;
}

function scaledRoot({ rootProducts, rootNodes, root, elimination: { rootSize: d }, products, lambda }: Factor): void {
  root.set(rootProducts);
  for (const { group, at } of rootNodes) {
    const m = products.size[group]!;
    const triangle = lambda[group]!;
    transposeTimes(triangle, m, root, at * d, d);
    for (let i = 0; i < d; i++)
      for (let e = 0; e < m; e++) {
        let sum = 0;
        for (let f = e; f < m; f++) sum += root[i * d + at + f]! * triangle[f * m + e]!;
        root[i * d + at + e] = sum;
      }
    for (let e = 0; e < m; e++) root[(at + e) * d + at + e]! += 1;
  }
}

/** A node's scaled cross-products, in the place of its panel of the factor; blocks of any size. */
function assembleBlocks(factor: Factor): (node: number, g: number) => void {
  const { products, elimination, panels } = factor;
  const { size, rowStart, rows, panelStart, panel, scalarBase, randomScalars } = products;
  const { inFront, factorStart } = elimination;
  return (node, g) => {
    const m = size[g]!;
    const own = factor.lambda[g]!;
    const at = factorStart[node]!;
    const from = panelStart[node]!;
    for (let i = 0; i < m; i++)
      for (let e = 0; e < m; e++) {
        let sum = 0;
        for (let f = e; f < m; f++) sum += panel[from + i * m + f]! * own[f * m + e]!;
        panels[at + i * m + e] = sum;
      }
    transposeTimes(own, m, panels, at, m);
    for (let e = 0; e < m; e++) panels[at + e * m + e]! += 1;
    let h = g;
    const first = rowStart[node]!;
    const count = rowStart[node + 1]! - first;
    for (let k = 0; k < count;) {
      const scalar = rows[first + k]!;
      let block = 1;
      if (scalar < randomScalars) {
        while (scalar >= scalarBase[h + 1]!) h++;
        block = size[h]!;
      }
      const to = at + inFront[first + k]! * m;
      for (let i = 0; i < block; i++)
        for (let e = 0; e < m; e++) {
          let sum = 0;
          for (let f = e; f < m; f++) sum += panel[from + (m + k + i) * m + f]! * own[f * m + e]!;
          panels[to + i * m + e] = sum;
        }
      if (scalar < randomScalars) transposeTimes(factor.lambda[h]!, block, panels, to, m);
      k += block;
    }
  };
}

/** As {@link assembleBlocks} for a model whose groupings all have one effect. */
function assembleScalars(factor: Factor): (node: number, g: number) => void {
  const { products, elimination, panels } = factor;
  const { rowStart, rows, panelStart, panel, scalarBase, randomScalars } = products;
  const { inFront, factorStart } = elimination;
  return (node, g) => {
    const own = factor.lambda[g]![0]!;
    const at = factorStart[node]!;
    const from = panelStart[node]!;
    panels[at] = own * own * panel[from]! + 1;
    let h = g;
    let scale = own;
    let end = scalarBase[g + 1]!;
    const first = rowStart[node]!;
    const count = rowStart[node + 1]! - first;
    for (let k = 0; k < count; k++) {
      const scalar = rows[first + k]!;
      if (scalar >= end) {
        if (scalar >= randomScalars) [scale, end] = [own, Infinity];
        else {
          while (scalar >= scalarBase[h + 1]!) h++;
          [scale, end] = [own * factor.lambda[h]![0]!, scalarBase[h + 1]!];
        }
      }
      panels[at + inFront[first + k]!] = panel[from + 1 + k]! * scale;
    }
  };
}

/** Factorises a node's columns; false when a pivot is not positive. */
function eliminateColumns(panels: Float64Array, at: number, m: number, side: number): boolean {
  for (let e = 0; e < m; e++) {
    let pivot = panels[at + e * m + e]!;
    for (let f = 0; f < e; f++) pivot -= panels[at + e * m + f]! * panels[at + e * m + f]!;
    if (!(pivot > 0)) return false;
    pivot = Math.sqrt(pivot);
    panels[at + e * m + e] = pivot;
    const inverse = 1 / pivot;
    for (let i = e + 1; i < side; i++) {
      let value = panels[at + i * m + e]!;
      for (let f = 0; f < e; f++) value -= panels[at + i * m + f]! * panels[at + e * m + f]!;
      panels[at + i * m + e] = value * inverse;
    }
  }
  return true;
}

/** Adds a node's update, and what its own children left in its front, to its parent's front or to the root. */
function passOn({ products, elimination, panels, squares, root }: Factor): (node: number, g: number) => void {
  const { size } = products;
  const { rootSize, groupOf, frontStart, inParent, parent, factorStart, squareStart } = elimination;
  return (node, g) => {
    const m = size[g]!;
    const at = factorStart[node]!;
    const start = frontStart[node]!;
    const below = frontStart[node + 1]! - start;
    const square = squareStart[node]!;
    const up = parent[node]!;
    const target = up === -1 ? root : squares;
    const base = up === -1 ? 0 : squareStart[up]!;
    const width = up === -1 ? rootSize : size[groupOf[up]!]! + frontStart[up + 1]! - frontStart[up]!;
    for (let i = 0; i < below; i++) {
      const line = base + inParent[start + i]! * width;
      const pi = at + (m + i) * m;
      if (m === 1) {
        const left = panels[pi]!;
        for (let j = 0, pj = at + 1; j <= i; j++, pj++) target[line + inParent[start + j]!]! -= left * panels[pj]!;
      } else
        for (let j = 0, pj = at + m * m; j <= i; j++, pj += m) {
          let update = 0;
          for (let e = 0; e < m; e++) update += panels[pi + e]! * panels[pj + e]!;
          target[line + inParent[start + j]!]! -= update;
        }
      if (square >= 0) {
        const from = square + (m + i) * (m + below) + m;
        for (let j = 0; j <= i; j++) target[line + inParent[start + j]!]! += squares[from + j]!;
      }
    }
  };
}

/** The elimination of a model's nodes one by one; made once, so that its arrays stay at hand. */
function eliminationSteps(factor: Factor): () => boolean {
  const { products, elimination, panels, squares } = factor;
  const { size } = products;
  const { rootNode, groupOf, frontStart, factorStart, squareStart } = elimination;
  const assemble = size.every((m) => m === 1) ? assembleScalars(factor) : assembleBlocks(factor);
  const pass = passOn(factor);
  return () => {
    panels.fill(0);
    squares.fill(0);
    for (let node = 0; node < rootNode; node++) {
      const g = groupOf[node]!;
      const m = size[g]!;
      const at = factorStart[node]!;
      const side = m + frontStart[node + 1]! - frontStart[node]!;
      const square = squareStart[node]!;
      assemble(node, g);
      if (square >= 0)
        for (let i = 0; i < side; i++)
          for (let e = 0; e < m; e++) panels[at + i * m + e]! += squares[square + i * side + e]!;
      if (!eliminateColumns(panels, at, m, side)) return false;
      pass(node, g);
    }
    return true;
  };
}

/**
 * Factorises for the given relative covariance factors.
 *
 * @returns false when rounding left the matrix short of positive definite, which only extreme factors do
 */
export function factorise(factor: Factor, lambda: Lambda): boolean {
  factor.lambda = lambda;
  scaledRoot(factor);
  return factor.eliminate() && choleskyInPlace(factor.root, factor.elimination.rootSize);
}

/** Logarithms of the determinants of the random and of the fixed part, and the penalised residual sum of squares. */
export interface CriterionParts {
  readonly logDetRandom: number;
  readonly logDetFixed: number;
  readonly residual: number;
}

export function criterionParts({ panels, root, products, elimination }: Factor): CriterionParts {
  const { rootNode, groupOf, factorStart, rootSize: d } = elimination;
  let logDetRandom = 0;
  for (let node = 0; node < rootNode; node++) {
    const m = products.size[groupOf[node]!]!;
    const at = factorStart[node]!;
    let pivots = panels[at]!;
    for (let e = 1; e < m; e++) pivots *= panels[at + e * m + e]!;
    logDetRandom += 2 * Math.log(pivots);
  }
  let logDetFixed = 0;
  const fixedAt = d - 1 - products.fixedCount;
  for (let i = 0; i < d - 1; i++) {
    const log = 2 * Math.log(root[i * d + i]!);
    if (i < fixedAt) logDetRandom += log;
    else logDetFixed += log;
  }
  return { logDetRandom, logDetFixed, residual: root[d * d - 1]! ** 2 };
}
