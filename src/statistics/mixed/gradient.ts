import type { Factor } from './factor.ts';

/**
 * What the selected inverse of the factorised matrix gives: derivatives, coefficients and their spread.
 *
 * With `S` the inverse (of the random part alone under ML), `logDet[g]` is `sum over levels of [A Lambda, X] S`, so that
 * the derivative of the log-determinant with respect to `Lambda_g[i, j]` is `2 logDet[g][i, j]`; `residual[g]` is
 * `sum over levels of (Z'W e) u'`, so that the derivative of the penalised residual is `-2 residual[g][i, j]`.
 * `x` is the solution scalar by scalar, the spherical effects `u` and then the inner fixed coefficients; `modes` is
 * `b = Lambda u`;
 * `spread[g]` is the sum over levels of the diagonal blocks of S, `outer[g]` of `u u'`.
 */
export interface Slopes {
  readonly logDet: readonly Float64Array[];
  readonly residual: readonly Float64Array[];
  readonly spread: readonly Float64Array[];
  readonly outer: readonly Float64Array[];
  readonly x: Float64Array;
  readonly modes: Float64Array;
  /** (d - 1) square inverse of the root, the response left out. */
  readonly rootInverse: Float64Array;
}

/**
 * What more may be wanted: derivatives of the log-determinant and of the residual in every cross-product, laid out as
 * the panels and then the fixed part, a symmetric pair that is stored once counted twice; and every level's block of S.
 */
export interface SlopeSinks {
  readonly logDet?: Float64Array;
  readonly residual?: Float64Array;
  readonly onNode?: (grouping: number, scalar: number, inverse: (e: number, f: number) => number) => void;
}

/** Inverse of the leading `n` rows of a Cholesky factor times its transpose, in a `width`-square, full. */
export function inverseOfFactor(lower: Float64Array, lowerWidth: number, n: number, width: number): Float64Array {
  const half = new Float64Array(n * n);
  for (let i = 0; i < n; i++) {
    const pivot = lower[i * lowerWidth + i]!;
    for (let k = 0; k < i; k++) {
      const l = lower[i * lowerWidth + k]!;
      if (l !== 0) for (let j = 0; j <= k; j++) half[i * n + j]! -= l * half[k * n + j]!;
    }
    for (let j = 0; j < i; j++) half[i * n + j]! /= pivot;
    half[i * n + i] = 1 / pivot;
  }
  const inverse = new Float64Array(width * width);
  for (let k = 0; k < n; k++)
    for (let i = 0; i <= k; i++) {
      const h = half[k * n + i]!;
      if (h !== 0) for (let j = 0; j <= i; j++) inverse[i * width + j]! += h * half[k * n + j]!;
    }
  for (let i = 0; i < n; i++) for (let j = 0; j < i; j++) inverse[j * width + i] = inverse[i * width + j]!;
  return inverse;
}

/** Whether no pivot of a lower triangle is close to zero, so that dividing by it costs few digits. */
function hasLargeDiagonal(triangle: Float64Array, m: number): boolean {
  for (let e = 0; e < m; e++) if (!(Math.abs(triangle[e * m + e]!) > 0.02)) return false;
  return true;
}

/** Replaces the m-square `a` by the solution X of `T' X = a`, T a lower triangle. */
function solveTransposed(triangle: Float64Array, m: number, a: Float64Array): void {
  for (let j = 0; j < m; j++)
    for (let i = m - 1; i >= 0; i--) {
      let sum = a[i * m + j]!;
      for (let k = i + 1; k < m; k++) sum -= triangle[k * m + i]! * a[k * m + j]!;
      a[i * m + j] = sum / triangle[i * m + i]!;
    }
}

/** Solves the root for the fixed coefficients and for the spherical effects of the root's own nodes. */
function solveRoot({ root, elimination: { rootSize: d } }: Factor): Float64Array {
  const solution = root.slice((d - 1) * d, d * d - 1);
  for (let i = d - 2; i >= 0; i--) {
    const x = (solution[i]! /= root[i * d + i]!);
    for (let j = 0; j < i; j++) solution[j]! -= root[i * d + j]! * x;
  }
  return solution;
}

interface Sinks {
  readonly productsLogDet: Float64Array;
  readonly productsResidual: Float64Array;
}

/** Derivatives in the root's cross-products: `scaled` is Lambda S, `values` is (-b, -beta, 1). */
function rootSinks(
  factor: Factor,
  scaled: Float64Array,
  values: Float64Array,
  { productsLogDet, productsResidual }: Sinks,
): void {
  const { products, elimination, rootNodes, lambda } = factor;
  const { size, nodeBase, scalarBase, rowStart, rows, panelStart, panel, fixedCount: p } = products;
  const { rootSize: d, rootScalar } = elimination;
  const inner = d - 1;
  for (const { group, at } of rootNodes) {
    const m = size[group]!;
    const triangle = lambda[group]!;
    const node = nodeBase[group]! + (at + rootScalar - scalarBase[group]!) / m;
    let to = panelStart[node]!;
    const put = (i: number, times: number): void => {
      for (let e = 0; e < m; e++, to++) {
        let sum = 0;
        if (i < inner) for (let f = 0; f <= e; f++) sum += scaled[i * inner + at + f]! * triangle[e * m + f]!;
        productsLogDet[to] = times * sum;
        productsResidual[to] = times * values[i]! * values[at + e]!;
      }
    };
    for (let e = 0; e < m; e++) put(at + e, 1);
    for (let k = rowStart[node]!; k < rowStart[node + 1]!; k++) put(rows[k]! - rootScalar, 2);
  }
  const base = inner - p;
  for (let i = 0; i <= p; i++)
    for (let j = 0; j <= i; j++) {
      const to = panel.length + i * (p + 1) + j;
      const times = i === j ? 1 : 2;
      productsLogDet[to] = i < p ? times * scaled[(base + i) * inner + base + j]! : 0;
      productsResidual[to] = times * values[base + i]! * values[base + j]!;
    }
}

/** Writes the derivatives in a node's cross-products, from its columns of S; made once for a run. */
function nodeSinks(
  { products, elimination, lambda }: Factor,
  { column, modes, x }: { readonly column: Float64Array; readonly modes: Float64Array; readonly x: Float64Array },
  { productsLogDet, productsResidual }: Sinks,
): (node: number, g: number, scalar: number) => void {
  const { size, scalarBase, rowStart, rows, panelStart, randomScalars, fixedCount } = products;
  const { inFront } = elimination;
  const response = randomScalars + fixedCount;
  const one = Float64Array.of(1);
  return (node, g, scalar) => {
    const m = size[g]!;
    const own = lambda[g]!;
    let to = panelStart[node]!;
    const first = rowStart[node]! - 1;
    let h = g;
    // Row by row of Lambda_c S_cv Lambda_v', the node's own block first.
    for (let k = first; k < rowStart[node + 1]!;) {
      const isOwn = k === first;
      const met = isOwn ? scalar : rows[k]!;
      const isFixed = met >= randomScalars;
      if (!isFixed) while (met >= scalarBase[h + 1]!) h++;
      const block = isFixed ? 1 : size[h]!;
      const triangle = isFixed ? one : lambda[h]!;
      const place = isOwn ? 0 : inFront[k]! * m;
      const times = isOwn ? 1 : 2;
      for (let a = 0; a < block; a++) {
        const value = met === response ? -1 : isFixed ? x[met]! : modes[met + a]!;
        for (let e = 0; e < m; e++, to++) {
          let sum = 0;
          if (met !== response)
            for (let f = 0; f <= e; f++) {
              let s = 0;
              for (let b = 0; b <= a; b++) s += triangle[a * block + b]! * column[place + b * m + f]!;
              sum += s * own[e * m + f]!;
            }
          productsLogDet[to] = times * sum;
          productsResidual[to] = times * value * modes[scalar + e]!;
        }
      }
      k += isOwn ? 1 : block;
    }
  };
}

/**
 * Runs down the factor once; {@link factorise} must have succeeded, and the fronts it left are overwritten.
 */
export function slopes(
  factor: Factor,
  method: 'REML' | 'ML',
  { logDet: productsLogDet, residual: productsResidual, onNode }: SlopeSinks = {},
): Slopes {
  const { products, elimination, panels, squares, lambda, rootProducts, rootNodes, root } = factor;
  const { size, rowStart, rows, panelStart, panel, scalarBase, nodeBase } = products;
  const { randomScalars, fixedCount } = products;
  const { rootNode, rootSize, rootScalar, groupOf, frontStart, frontRows, inParent, parent, inFront } = elimination;
  const { factorStart, squareStart, widestFront } = elimination;
  const zeros = (): Float64Array[] => Array.from(size, (m) => new Float64Array(m * m));
  const [logDet, residual, spread, outer] = [zeros(), zeros(), zeros(), zeros()];
  const x = new Float64Array(randomScalars + fixedCount);
  const modes = new Float64Array(randomScalars);
  const inner = rootSize - 1;
  const solution = solveRoot(factor);
  x.set(solution, rootScalar);
  const rootInverse = inverseOfFactor(root, rootSize, method === 'REML' ? inner : inner - fixedCount, inner);

  const toModes = (g: number, scalar: number): void => {
    const m = size[g]!;
    const triangle = lambda[g]!;
    for (let e = 0; e < m; e++) {
      let sum = 0;
      for (let f = 0; f <= e; f++) sum += triangle[e * m + f]! * x[scalar + f]!;
      modes[scalar + e] = sum;
    }
  };
  const record = (g: number, scalar: number, s: Float64Array, at: number, width: number): void => {
    onNode?.(g, scalar, (e, f) => s[at + e * width + f]!);
    const m = size[g]!;
    for (let e = 0; e < m; e++)
      for (let f = 0; f < m; f++) {
        spread[g]![e * m + f]! += s[at + e * width + f]!;
        outer[g]![e * m + f]! += x[scalar + e]! * x[scalar + f]!;
      }
  };

  // The root: its cross-products times the scaled inverse, row block by row block.
  const scaled = new Float64Array(rootInverse);
  const values = new Float64Array(inner + 1);
  values.set(solution);
  for (const { group, at } of rootNodes) {
    const m = size[group]!;
    const triangle = lambda[group]!;
    toModes(group, rootScalar + at);
    for (let e = m - 1; e >= 0; e--) {
      values[at + e] = -modes[rootScalar + at + e]!;
      for (let c = 0; c < inner; c++) {
        let sum = 0;
        for (let f = 0; f <= e; f++) sum += triangle[e * m + f]! * rootInverse[(at + f) * inner + c]!;
        scaled[(at + e) * inner + c] = sum;
      }
    }
    record(group, rootScalar + at, rootInverse, at * inner + at, inner);
  }
  for (let j = randomScalars - rootScalar; j < inner; j++) values[j] = -solution[j]!;
  values[inner] = 1;
  // Where every factor can be inverted, Lambda' (its sums) = (levels) I - S and = u u', and the products need not be read.
  const isRegular = lambda.every((triangle, g) => hasLargeDiagonal(triangle, size[g]!));
  for (const { group, at } of isRegular ? [] : rootNodes) {
    const m = size[group]!;
    for (let e = 0; e < m; e++) {
      const line = (at + e) * rootSize;
      let moment = 0;
      for (let c = 0; c <= inner; c++) moment += rootProducts[line + c]! * values[c]!;
      for (let f = 0; f < m; f++) {
        let sum = 0;
        for (let c = 0; c < inner; c++) sum += rootProducts[line + c]! * scaled[c * inner + at + f]!;
        logDet[group]![e * m + f]! += sum;
        residual[group]![e * m + f]! += moment * x[rootScalar + at + f]!;
      }
    }
  }

  if (productsLogDet && productsResidual) rootSinks(factor, scaled, values, { productsLogDet, productsResidual });

  // The nodes, parents first. `own` holds the node's columns of the inverse, `squares` the whole front where children need it.
  const widest = Math.max(1, ...size);
  const column = new Float64Array(widestFront * widest);
  const t = new Float64Array(widestFront * widest);
  const triangleInverse = new Float64Array(widest * widest);
  const moments = new Float64Array(widest);
  const across = new Float64Array(widest * widest);
  const sink =
    productsLogDet && productsResidual
      ? nodeSinks(factor, { column, modes, x }, { productsLogDet, productsResidual })
      : null;
  for (let node = rootNode - 1; node >= 0; node--) {
    const g = groupOf[node]!;
    const m = size[g]!;
    const own = lambda[g]!;
    const at = factorStart[node]!;
    const start = frontStart[node]!;
    const below = frontStart[node + 1]! - start - 1;
    const scalar = scalarBase[g]! + (node - nodeBase[g]!) * m;
    const up = parent[node]!;
    const above = up === -1 ? rootInverse : squares;
    const base = up === -1 ? 0 : squareStart[up]!;
    const width = up === -1 ? inner : size[groupOf[up]!]! + frontStart[up + 1]! - frontStart[up]! - 1;

    // Spherical effects from L'u = l_y - L_R' x_R.
    for (let e = m - 1; e >= 0; e--) {
      let sum = panels[at + (m + below) * m + e]!;
      for (let k = 0; k < below; k++) sum -= panels[at + (m + k) * m + e]! * x[frontRows[start + k]!]!;
      for (let f = e + 1; f < m; f++) sum -= panels[at + f * m + e]! * x[scalar + f]!;
      x[scalar + e] = sum / panels[at + e * m + e]!;
    }
    toModes(g, scalar);

    // The node's columns of the inverse: T = L_R L^-1, S_R = -S_RR T, S = (L L')^-1 - T' S_R.
    for (let k = 0; k < below; k++)
      for (let e = m - 1; e >= 0; e--) {
        let sum = panels[at + (m + k) * m + e]!;
        for (let f = e + 1; f < m; f++) sum -= t[k * m + f]! * panels[at + f * m + e]!;
        t[k * m + e] = sum / panels[at + e * m + e]!;
      }
    for (let k = 0; k < below; k++) {
      const line = base + inParent[start + k]! * width;
      for (let e = 0; e < m; e++) {
        let sum = 0;
        for (let j = 0; j < below; j++) sum -= above[line + inParent[start + j]!]! * t[j * m + e]!;
        column[(m + k) * m + e] = sum;
      }
    }
    for (let e = 0; e < m; e++) {
      triangleInverse[e * m + e] = 1 / panels[at + e * m + e]!;
      for (let f = 0; f < e; f++) {
        let sum = 0;
        for (let k = f; k < e; k++) sum -= panels[at + e * m + k]! * triangleInverse[k * m + f]!;
        triangleInverse[e * m + f] = sum / panels[at + e * m + e]!;
      }
    }
    for (let e = 0; e < m; e++)
      for (let f = 0; f <= e; f++) {
        let sum = 0;
        for (let k = e; k < m; k++) sum += triangleInverse[k * m + e]! * triangleInverse[k * m + f]!;
        for (let k = 0; k < below; k++) sum -= t[k * m + e]! * column[(m + k) * m + f]!;
        column[e * m + f] = column[f * m + e] = sum;
      }
    const square = squareStart[node]!;
    if (square >= 0) {
      const side = m + below;
      for (let i = 0; i < side; i++)
        for (let e = 0; e < m; e++)
          squares[square + i * side + e] = squares[square + e * side + i] = column[i * m + e]!;
      for (let k = 0; k < below; k++) {
        const line = base + inParent[start + k]! * width;
        const to = square + (m + k) * side + m;
        for (let j = 0; j < below; j++) squares[to + j] = above[line + inParent[start + j]!]!;
      }
    }
    record(g, scalar, column, 0, m);

    sink?.(node, g, scalar);
    if (isRegular) continue;

    // The node's cross-products, each block once, for its own slopes and for those of the nodes it meets.
    const from = panelStart[node]!;
    for (let i = 0; i < m; i++) moments[i] = 0;
    for (let f = 0; f < m; f++) {
      for (let j = 0; j < m; j++) {
        let sum = 0;
        for (let k = 0; k <= f; k++) sum += own[f * m + k]! * column[k * m + j]!;
        for (let i = 0; i < m; i++) logDet[g]![i * m + j]! += panel[from + f * m + i]! * sum;
      }
      for (let i = 0; i < m; i++) moments[i]! -= panel[from + f * m + i]! * modes[scalar + f]!;
    }
    const first = rowStart[node]!;
    const count = rowStart[node + 1]! - first;
    let h = g;
    for (let k = 0; k < count;) {
      const met = rows[first + k]!;
      const line = from + (m + k) * m;
      const place = inFront[first + k]! * m;
      if (met >= randomScalars) {
        if (k === count - 1) for (let i = 0; i < m; i++) moments[i]! += panel[line + i]!;
        else
          for (let i = 0; i < m; i++) {
            const a = panel[line + i]!;
            moments[i]! -= a * x[met]!;
            for (let j = 0; j < m; j++) logDet[g]![i * m + j]! += a * column[place + j]!;
          }
        k++;
        continue;
      }
      while (met >= scalarBase[h + 1]!) h++;
      const block = size[h]!;
      const other = lambda[h]!;
      for (let i = 0; i < m; i++)
        for (let b = 0; b < block; b++) {
          let sum = 0;
          for (let f = 0; f <= i; f++) sum += own[i * m + f]! * column[place + b * m + f]!;
          across[i * block + b] = sum;
        }
      for (let a = 0; a < block; a++) {
        for (let j = 0; j < m; j++) {
          let sum = 0;
          for (let b = 0; b <= a; b++) sum += other[a * block + b]! * column[place + b * m + j]!;
          for (let i = 0; i < m; i++) logDet[g]![i * m + j]! += panel[line + a * m + i]! * sum;
        }
        let moment = 0;
        for (let i = 0; i < m; i++) {
          const product = panel[line + a * m + i]!;
          moments[i]! -= product * modes[met + a]!;
          moment -= product * modes[scalar + i]!;
          for (let b = 0; b < block; b++) logDet[h]![a * block + b]! += product * across[i * block + b]!;
        }
        for (let b = 0; b < block; b++) residual[h]![a * block + b]! += moment * x[met + b]!;
      }
      k += block;
    }
    for (let i = 0; i < m; i++) for (let j = 0; j < m; j++) residual[g]![i * m + j]! += moments[i]! * x[scalar + j]!;
  }
  if (isRegular)
    lambda.forEach((triangle, g) => {
      const m = size[g]!;
      const levels = nodeBase[g + 1]! - nodeBase[g]!;
      logDet[g]!.set(spread[g]!.map((s, at) => (at % (m + 1) === 0 ? levels - s : -s)));
      residual[g]!.set(outer[g]!);
      solveTransposed(triangle, m, logDet[g]!);
      solveTransposed(triangle, m, residual[g]!);
    });
  return { logDet, residual, spread, outer, x, modes, rootInverse };
}
