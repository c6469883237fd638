import { rowsByLevel, type CrossProducts } from './cross-products.ts';

/**
 * Levels of the finest grouping that count alike in the same places. A level of m effects has cross-products N with itself
 * (m square) and `a_1 ... a_m` with everything after it; only `sum over i, j of W_ij a_i a_j'` with
 * `W = Lambda (Lambda' N Lambda + I)^-1 Lambda'` enters the criterion. So the levels of equal N under one node are summed,
 * pair of effects by pair of effects, to one chunk shaped as the panel of that node (or as the fixed part).
 */
export interface SummedLevels {
  /** The distinct N, m square each, one after the other, and how many levels have each. */
  readonly products: Float64Array;
  readonly levels: readonly number[];
  /** Class of each level. */
  readonly classOf: Int32Array;
  /** Effects i and j, i >= j, of each pair; pair k of class c is kind `c * pairs.length + k`. */
  readonly pairs: readonly (readonly [i: number, j: number])[];
  /** Kind of each chunk. */
  readonly kindOf: Int32Array;
  /** Where in the panel (or, from `panelLength` on, in the fixed part) each chunk belongs, and its extent in `sums`. */
  readonly target: Float64Array;
  readonly start: Float64Array;
  /** `a_i a_i'`, or for a pair of different effects `a_i a_j' + a_j a_i'`. */
  readonly sums: Float64Array;
}

/** Levels are summed unless the chunks would be longer than this many numbers a level; more, and eliminating is quicker. */
const longestPerLevel = 40;

/** Levels of several effects are summed if there are at least so many to a class: a summed class takes several chunks. */
const fewestAlike = 4;

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

/** Numbers the distinct self-products of the levels; null when too few levels are alike. */
function classesOf(products: CrossProducts): Pick<SummedLevels, 'products' | 'levels' | 'classOf'> | null {
  const leaves = products.nodeBase[1]!;
  const square = products.size[0]! ** 2;
  const most = square === 1 ? leaves : Math.ceil(leaves / fewestAlike);
  const { panel, panelStart } = products;
  const known = new Map<number, number[]>();
  const classOf = new Int32Array(leaves);
  const distinct: number[] = [];
  const levels: number[] = [];
  for (let leaf = 0; leaf < leaves; leaf++) {
    const from = panelStart[leaf]!;
    let mixed = panel[from]!;
    for (let k = 1; k < square; k++) mixed = mixed * 0.7548776662466927 + panel[from + k]!;
    let alike = known.get(mixed);
    if (!alike) known.set(mixed, (alike = []));
    let at = -1;
    for (const candidate of alike) {
      let k = 0;
      while (k < square && distinct[candidate * square + k] === panel[from + k]) k++;
      if (k === square) at = candidate;
    }
    if (at === -1) {
      at = levels.length;
      if (at === most) return null;
      alike.push(at);
      for (let k = 0; k < square; k++) distinct.push(panel[from + k]!);
      levels.push(0);
    }
    levels[at]!++;
    classOf[leaf] = at;
  }
  return { classOf, products: Float64Array.from(distinct), levels };
}

/** Chunks as they are filled: each has a kind, a place where it belongs and a stretch of `sums`. */
class Chunks {
  readonly kinds: number[] = [];
  readonly target: number[] = [];
  readonly start: number[] = [0];
  sums = new Float64Array(1024);

  get length(): number {
    return this.start[this.start.length - 1]!;
  }

  /** Opens a chunk of so many zeros; returns where it starts. */
  open(kind: number, target: number, length: number): number {
    const from = this.length;
    if (from + length > this.sums.length) {
      const larger = new Float64Array(Math.max(from + length, this.sums.length * 2));
      larger.set(this.sums);
      this.sums = larger;
    }
    this.kinds.push(kind);
    this.target.push(target);
    this.start.push(from + length);
    return from;
  }
}

/** Sums up the finest grouping; null when it is not nested in all others or its levels are too unlike. */
export function sumLevels(products: CrossProducts): SummedLevels | null {
  const { groupCount, size, nodeBase, scalarBase, rowStart, rows, panelStart, panel, randomScalars, fixedCount } =
    products;
  if (groupCount === 0) return null;
  const above = ancestors(products);
  const classes = above && classesOf(products);
  if (!classes) return null;
  const { classOf } = classes;
  const leaves = nodeBase[1]!;
  const m0 = size[0]!;
  const pairs = Array.from({ length: m0 }, (_, i) => Array.from({ length: i + 1 }, (_, j) => [i, j] as const)).flat();
  const shift = panelStart[leaves]!;
  const panelLength = panelStart[nodeBase[groupCount]!]! - shift;
  const side = fixedCount + 1;
  const longest = longestPerLevel * leaves + 1e6;
  if (classes.levels.length * pairs.length * side * side > longest) return null;
  const chunks = new Chunks();
  const place = new Int32Array(randomScalars + fixedCount + 1);
  const chunkOf = new Float64Array(classes.levels.length);
  const nodeOfChunk = new Int32Array(classes.levels.length).fill(-1);

  for (const [h, nodes] of above.entries()) {
    const m = size[h + 1]!;
    let node = -1;
    for (const leaf of rowsByLevel(nodes, nodeBase[h + 1]!, nodeBase[h + 2]! - nodeBase[h + 1]!).order) {
      const own = scalarBase[h + 1]! + (nodes[leaf]! - nodeBase[h + 1]!) * m;
      if (nodes[leaf] !== node) {
        node = nodes[leaf]!;
        for (let e = 0; e < m; e++) place[own + e] = e * m;
        for (let k = rowStart[node]!; k < rowStart[node + 1]!; k++) place[rows[k]!] = (m + k - rowStart[node]!) * m;
      }
      const length = panelStart[node + 1]! - panelStart[node]!;
      const alike = classOf[leaf]!;
      if (nodeOfChunk[alike] !== node) {
        nodeOfChunk[alike] = node;
        chunkOf[alike] = chunks.length;
        for (let k = 0; k < pairs.length; k++) chunks.open(alike * pairs.length + k, panelStart[node]! - shift, length);
      }
      const { sums } = chunks;
      const first = rowStart[leaf]!;
      const last = rowStart[leaf + 1]!;
      // Where the cross-products of scalar rows[k] would be, were k counted from 0.
      const from = panelStart[leaf]! + m0 * m0 - first * m0;
      let k = first;
      while (rows[k]! < own) k++;
      let base = chunkOf[alike]!;
      for (let i = 0; i < m0; i++)
        for (let j = 0; j <= i; j++) {
          for (let e = 0; e < m; e++) {
            const left = panel[from + (k + e) * m0 + i]!;
            if (i === j)
              for (let r = k; r < last; r++) sums[base + place[rows[r]!]! + e]! += left * panel[from + r * m0 + i]!;
            else {
              const other = panel[from + (k + e) * m0 + j]!;
              for (let r = k; r < last; r++)
                sums[base + place[rows[r]!]! + e]! +=
                  left * panel[from + r * m0 + j]! + other * panel[from + r * m0 + i]!;
            }
          }
          base += length;
        }
    }
    if (chunks.length > longest) return null;
  }

  for (let alike = 0; alike < classes.levels.length; alike++) {
    chunkOf[alike] = chunks.length;
    for (let k = 0; k < pairs.length; k++) chunks.open(alike * pairs.length + k, panelLength, side * side);
  }
  const { sums } = chunks;
  for (let leaf = 0; leaf < leaves; leaf++) {
    const first = rowStart[leaf]!;
    const last = rowStart[leaf + 1]!;
    const from = panelStart[leaf]! + m0 * m0 - first * m0;
    let k = first;
    while (rows[k]! < randomScalars) k++;
    let base = chunkOf[classOf[leaf]!]!;
    for (let i = 0; i < m0; i++)
      for (let j = 0; j <= i; j++) {
        for (let r = k; r < last; r++) {
          const line = base + (rows[r]! - randomScalars) * side - randomScalars;
          const left = panel[from + r * m0 + i]!;
          if (i === j) for (let s = k; s <= r; s++) sums[line + rows[s]!]! += left * panel[from + s * m0 + i]!;
          else {
            const other = panel[from + r * m0 + j]!;
            for (let s = k; s <= r; s++)
              sums[line + rows[s]!]! += left * panel[from + s * m0 + j]! + other * panel[from + s * m0 + i]!;
          }
        }
        base += side * side;
      }
  }
  return {
    products: classes.products,
    levels: classes.levels,
    classOf,
    pairs,
    kindOf: Int32Array.from(chunks.kinds),
    target: Float64Array.from(chunks.target),
    start: Float64Array.from(chunks.start),
    sums,
  };
}
