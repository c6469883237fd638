import type { Grouping } from './random-design.ts';

/** The rows of a model as the engine reads them: inner fixed columns and response, see FixedBasis. */
export interface ModelRows {
  readonly length: number;
  readonly weights: Float64Array | null;
  readonly response: Float64Array;
  readonly fixedCount: number;
  readonly start: Int32Array;
  readonly columns: Int32Array;
  readonly values: Float64Array;
  readonly groupings: readonly Grouping[];
  /** Divisor of each effect of each grouping, so that the scaled effect has unit mean square. */
  readonly effectScale: readonly Float64Array[];
}

/**
 * The cross-products of a mixed model, all that the fit needs of the data.
 *
 * Scalars are numbered: the random effects grouping by grouping, level by level; then the fixed columns; then the
 * response. A node is one level of one grouping. Node v of size m has the panel `panel[panelStart[v]...]`, row by row,
 * m columns wide: its own m rows first (symmetric), then one row for each scalar `rows[rowStart[v]..rowStart[v + 1])`
 * that meets it in some reading and stands after it, ascending; the response is always the last.
 */
export interface CrossProducts {
  readonly groupCount: number;
  /** First node, first scalar and size of a level, grouping by grouping; `nodeBase` has one more, the number of nodes. */
  readonly nodeBase: Int32Array;
  readonly scalarBase: Int32Array;
  readonly size: Int32Array;
  readonly randomScalars: number;
  readonly fixedCount: number;
  readonly rowStart: Int32Array;
  readonly rows: Int32Array;
  readonly panelStart: Float64Array;
  readonly panel: Float64Array;
  /** (p + 1) square, row by row, lower triangle filled: fixed columns and response. */
  readonly fixed: Float64Array;
}

/** A typed array that grows; what lies beyond `length` is zero until written. */
class Growing<T extends Int32Array | Float64Array> {
  length = 0;
  array: T;
  readonly #make: (length: number) => T;
  constructor(make: (length: number) => T) {
    this.#make = make;
    this.array = make(1024);
  }
  reserve(length: number): void {
    if (length <= this.array.length) return;
    const larger = this.#make(Math.max(length, Math.ceil(this.array.length * 1.7)));
    larger.set(this.array);
    this.array = larger;
  }
}

/** Sorts part of an array in place; by insertion where it is short, as most are. */
function sortRange(array: Int32Array, from: number, to: number): void {
  if (to - from > 40) {
    array.subarray(from, to).sort();
    return;
  }
  for (let i = from + 1; i < to; i++) {
    const value = array[i]!;
    let j = i - 1;
    for (; j >= from && array[j]! > value; j--) array[j + 1] = array[j]!;
    array[j + 1] = value;
  }
}

/** Places ordered by their code (from `first` on, `levels` of them, equal codes in order), and where each code starts. */
export function rowsByLevel(
  codes: Int32Array,
  first: number,
  levels: number,
): { readonly order: Int32Array; readonly start: Int32Array } {
  const start = new Int32Array(levels + 1);
  for (const code of codes) start[code - first + 1]!++;
  for (let level = 0; level < levels; level++) start[level + 1]! += start[level]!;
  const next = start.slice(0, levels);
  const order = new Int32Array(codes.length);
  for (let row = 0; row < codes.length; row++) order[next[codes[row]! - first]!++] = row;
  return { order, start };
}

/** Sums the cross-products of the rows, one pass a grouping, readings of one level together. */
export function crossProducts(data: ModelRows): CrossProducts {
  const { groupings, effectScale, fixedCount: p, start, columns, values, response, weights } = data;
  const groupCount = groupings.length;
  const nodeBase = new Int32Array(groupCount + 1);
  const scalarBase = new Int32Array(groupCount + 1);
  const size = Int32Array.from(groupings, (grouping) => grouping.size);
  groupings.forEach(({ labels }, g) => {
    nodeBase[g + 1] = nodeBase[g]! + labels.length;
    scalarBase[g + 1] = scalarBase[g]! + labels.length * size[g]!;
  });
  const q = scalarBase[groupCount]!;
  const nodes = nodeBase[groupCount]!;
  const rowStart = new Int32Array(nodes + 1);
  const panelStart = new Float64Array(nodes + 1);
  const rows = new Growing((length) => new Int32Array(length));
  const panel = new Growing((length) => new Float64Array(length));
  const place = new Int32Array(q + p + 1).fill(-1);
  const z = groupings.map(({ size: m }) => new Float64Array(m));
  const codes = groupings.map((grouping) => grouping.codes);
  const inverseScale = effectScale.map((scales) => scales.map((scale) => 1 / scale));

  /** Reads a row's scaled effects of groupings g and after into `z`. */
  const readEffects = (g: number, row: number): void => {
    for (let h = g; h < groupCount; h++) {
      const into = z[h]!;
      const from = groupings[h]!.values;
      const scale = inverseScale[h]!;
      for (let e = 0; e < into.length; e++) {
        const column = from[e];
        into[e] = column ? column[row]! * scale[e]! : scale[e]!;
      }
    }
  };

  /** Collects what the rows of a level meet, sorted, into `rows`; returns how many scalars. */
  const collect = (g: number, order: Int32Array, first: number, last: number): number => {
    const from = rows.length;
    let to = from;
    for (let k = first; k < last; k++) {
      const row = order[k]!;
      for (let h = g + 1; h < groupCount; h++) {
        const m = size[h]!;
        const scalar = scalarBase[h]! + codes[h]![row]! * m;
        if (place[scalar] !== -1) continue;
        rows.reserve(to + m);
        for (let e = 0; e < m; e++) {
          place[scalar + e] = 0;
          rows.array[to++] = scalar + e;
        }
      }
      for (let at = start[row]!; at < start[row + 1]!; at++) {
        const scalar = q + columns[at]!;
        if (place[scalar] !== -1) continue;
        place[scalar] = 0;
        rows.reserve(to + 1);
        rows.array[to++] = scalar;
      }
    }
    rows.reserve(to + 1);
    sortRange(rows.array, from, to);
    rows.array[to++] = q + p;
    rows.length = to;
    return to - from;
  };

  for (let g = 0; g < groupCount; g++) {
    const m = size[g]!;
    const zg = z[g]!;
    const { order, start: levelStart } = rowsByLevel(codes[g]!, 0, groupings[g]!.labels.length);
    for (let level = 0; level < groupings[g]!.labels.length; level++) {
      const node = nodeBase[g]! + level;
      const [first, last] = [levelStart[level]!, levelStart[level + 1]!];
      const from = rows.length;
      const met = collect(g, order, first, last);
      for (let k = 0; k < met; k++) place[rows.array[from + k]!] = (m + k) * m;
      rowStart[node + 1] = rows.length;

      const base = panel.length;
      panel.length = base + (m + met) * m;
      panel.reserve(panel.length);
      const own = panel.array;
      const toResponse = (m + met - 1) * m;
      for (let k = first; k < last; k++) {
        const row = order[k]!;
        const w = weights ? weights[row]! : 1;
        readEffects(g, row);
        for (let e = 0; e < m; e++) {
          const wz = w * zg[e]!;
          const at = base + e;
          for (let f = 0; f < m; f++) own[at + f * m]! += wz * zg[f]!;
          for (let h = g + 1; h < groupCount; h++) {
            const zh = z[h]!;
            const to = at + place[scalarBase[h]! + codes[h]![row]! * size[h]!]!;
            for (let f = 0; f < zh.length; f++) own[to + f * m]! += wz * zh[f]!;
          }
          for (let x = start[row]!; x < start[row + 1]!; x++) own[at + place[q + columns[x]!]!]! += wz * values[x]!;
          own[at + toResponse]! += wz * response[row]!;
        }
      }
      for (let k = from; k < rows.length; k++) place[rows.array[k]!] = -1;
      panelStart[node + 1] = panel.length;
    }
  }

  const side = p + 1;
  const fixed = new Float64Array(side * side);
  for (let row = 0; row < data.length; row++) {
    const w = weights ? weights[row]! : 1;
    const wy = w * response[row]!;
    fixed[side * side - 1]! += wy * response[row]!;
    for (let a = start[row]!; a < start[row + 1]!; a++) {
      const i = columns[a]!;
      const wx = w * values[a]!;
      fixed[p * side + i]! += wx * response[row]!;
      for (let b = start[row]!; b <= a; b++) fixed[i * side + columns[b]!]! += wx * values[b]!;
    }
  }
  return {
    groupCount,
    nodeBase,
    scalarBase,
    size,
    randomScalars: q,
    fixedCount: p,
    rowStart,
    rows: rows.array.slice(0, rows.length),
    panelStart,
    panel: panel.array.slice(0, panel.length),
    fixed,
  };
}
