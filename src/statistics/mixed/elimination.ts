import type { CrossProducts } from './cross-products.ts';

/**
 * The order and the shape of the Cholesky factor, found once for a model.
 *
 * Nodes before `rootNode` are eliminated one by one in their own order, which is finest grouping first; what is left,
 * crossed factors and the fixed part, makes one dense root of `rootSize` scalars whose first is `rootScalar` and whose
 * last is the response. A node's front is its own scalars followed by `frontRows[frontStart[v]..frontStart[v + 1])`,
 * those it meets once all nodes before it are gone. With strict nesting nothing is filled in.
 */
export interface Elimination {
  readonly rootNode: number;
  readonly rootScalar: number;
  readonly rootSize: number;
  /** Grouping of each node before the root. */
  readonly groupOf: Int16Array;
  readonly frontStart: Int32Array;
  /** Scalars below each node's own in its front, the response last. */
  readonly frontRows: Int32Array;
  /** Place of each front row in the parent's front, or in the root. */
  readonly inParent: Int32Array;
  /** The node that takes up this one's update, -1 for the root. */
  readonly parent: Int32Array;
  /** Place in the node's front of each row of its panel of cross-products. */
  readonly inFront: Int32Array;
  /** Place of the node's lower panel of the factor. */
  readonly factorStart: Float64Array;
  /** Place of the node's whole square front, -1 for nodes that no node updates. */
  readonly squareStart: Float64Array;
  readonly squareLength: number;
  readonly widestFront: number;
}

const mostFill = 2e8;

/** Row lists of the fronts, nodes in order: own cross-product rows and the children's rows that are not the node's own. */
function fronts(products: CrossProducts): { frontRows: Int32Array[]; parent: Int32Array } {
  const { nodeBase, scalarBase, size, groupCount, rowStart, rows, randomScalars } = products;
  const nodes = nodeBase[groupCount]!;
  const nodeOf = (scalar: number): number => {
    let g = 0;
    while (scalar >= scalarBase[g + 1]!) g++;
    return nodeBase[g]! + Math.floor((scalar - scalarBase[g]!) / size[g]!);
  };
  const parent = new Int32Array(nodes).fill(-1);
  const firstChild = new Int32Array(nodes).fill(-1);
  const nextChild = new Int32Array(nodes).fill(-1);
  const stamp = new Int32Array(randomScalars + products.fixedCount + 1).fill(-1);
  const frontRows: Int32Array[] = [];
  let fill = 0;
  for (let g = 0; g < groupCount; g++) {
    for (let node = nodeBase[g]!; node < nodeBase[g + 1]!; node++) {
      const own = rows.subarray(rowStart[node], rowStart[node + 1]);
      const beyond = scalarBase[g]! + (node - nodeBase[g]! + 1) * size[g]!;
      let list: number[] | null = null;
      if (firstChild[node] !== -1) {
        for (const scalar of own) stamp[scalar] = node;
        for (let child = firstChild[node]!; child !== -1; child = nextChild[child]!)
          for (const scalar of frontRows[child]!)
            if (scalar >= beyond && stamp[scalar] !== node) {
              stamp[scalar] = node;
              (list ??= Array.from(own)).push(scalar);
            }
      }
      const front = list ? Int32Array.from(list).sort() : own;
      fill += front.length * size[g]!;
      if (fill > mostFill)
        throw new RangeError(
          'Cannot fit: the grouping factors are crossed too widely, the factor would exceed 200 million entries; expected fewer levels or nested ones',
        );
      frontRows.push(front);
      if (front[0]! < randomScalars) {
        const up = nodeOf(front[0]!);
        parent[node] = up;
        nextChild[node] = firstChild[up]!;
        firstChild[up] = node;
      }
    }
  }
  return { frontRows, parent };
}

/** Finds the fronts, then lets the root take the trailing nodes that meet at least half of what stands after them. */
export function eliminationOf(products: CrossProducts): Elimination {
  const { nodeBase, scalarBase, size, groupCount, rowStart, rows, randomScalars, fixedCount } = products;
  const { frontRows: lists, parent } = fronts(products);
  let rootNode = nodeBase[groupCount]!;
  let rootScalar = randomScalars;
  const end = randomScalars + fixedCount + 1;
  let group = groupCount - 1;
  while (rootNode > 0) {
    while (rootNode - 1 < nodeBase[group]!) group--;
    if (lists[rootNode - 1]!.length < (end - rootScalar) / 2) break;
    rootNode--;
    rootScalar -= size[group]!;
  }
  const groupOf = new Int16Array(rootNode);
  const frontStart = new Int32Array(rootNode + 1);
  const factorStart = new Float64Array(rootNode + 1);
  for (let g = 0; g < groupCount; g++)
    for (let node = nodeBase[g]!; node < Math.min(nodeBase[g + 1]!, rootNode); node++) {
      groupOf[node] = g;
      frontStart[node + 1] = frontStart[node]! + lists[node]!.length;
      factorStart[node + 1] = factorStart[node]! + (size[g]! + lists[node]!.length) * size[g]!;
      if (parent[node]! >= rootNode) parent[node] = -1;
    }
  const frontRows = new Int32Array(frontStart[rootNode]!);
  for (let node = 0; node < rootNode; node++) frontRows.set(lists[node]!, frontStart[node]);
  const inParent = new Int32Array(frontRows.length);
  const inFront = new Int32Array(rowStart[rootNode]!);
  const place = new Int32Array(end);
  const squareStart = new Float64Array(rootNode).fill(-1);
  let squareLength = 0;
  let widestFront = 0;
  // Children grouped under their parents, so that each parent's places are written once.
  const firstChild = new Int32Array(rootNode).fill(-1);
  const nextChild = new Int32Array(rootNode).fill(-1);
  for (let node = rootNode - 1; node >= 0; node--) {
    const up = parent[node]!;
    if (up === -1) {
      lists[node]!.forEach((scalar, k) => (inParent[frontStart[node]! + k] = scalar - rootScalar));
    } else {
      nextChild[node] = firstChild[up]!;
      firstChild[up] = node;
    }
  }
  for (let node = 0; node < rootNode; node++) {
    const g = groupOf[node]!;
    const m = size[g]!;
    const front = lists[node]!;
    widestFront = Math.max(widestFront, m + front.length);
    const own = scalarBase[g]! + (node - nodeBase[g]!) * m;
    for (let e = 0; e < m; e++) place[own + e] = e;
    for (let k = 0; k < front.length; k++) place[front[k]!] = m + k;
    for (let k = rowStart[node]!; k < rowStart[node + 1]!; k++) inFront[k] = place[rows[k]!]!;
    if (firstChild[node] === -1) continue;
    squareStart[node] = squareLength;
    squareLength += (m + front.length) ** 2;
    for (let child = firstChild[node]!; child !== -1; child = nextChild[child]!)
      lists[child]!.forEach((scalar, k) => (inParent[frontStart[child]! + k] = place[scalar]!));
  }
  return {
    rootNode,
    rootScalar,
    rootSize: end - rootScalar,
    groupOf,
    frontStart,
    frontRows,
    inParent,
    parent: parent.subarray(0, rootNode),
    inFront,
    factorStart,
    squareStart,
    squareLength,
    widestFront,
  };
}
