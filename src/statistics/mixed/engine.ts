import type { CrossProducts } from './cross-products.ts';
import { criterionParts, factorise, prepareFactor, refreshRoot, type Factor, type Lambda } from './factor.ts';
import { slopes, type Slopes } from './gradient.ts';
import { invertInPlace, times, timesTranspose, transposeTimes } from './squares.ts';
import { sumLevels, type SummedLevels } from './summed-levels.ts';

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
function summedEngine(whole: CrossProducts, summed: SummedLevels): Engine {
  const { products, levels, pairs, kindOf, target, start, sums } = summed;
  const leaves = whole.nodeBase[1]!;
  const m = whole.size[0]!;
  const shift = whole.panelStart[leaves]!;
  const panelLength = whole.panel.length - shift;
  const plain = new Float64Array(panelLength + whole.fixed.length);
  plain.set(whole.panel.subarray(shift));
  plain.set(whole.fixed, panelLength);
  const values = plain.slice();
  const factor = prepareFactor(withoutFinest(whole, values, panelLength));
  const slopeOfLogDet = new Float64Array(values.length);
  const slopeOfResidual = new Float64Array(values.length);
  const square = m * m;
  const classes = levels.length;
  const weight = new Float64Array(classes * pairs.length);
  // Per class, m square: (Lambda' N Lambda + I)^-1, P = Lambda times that, W = P Lambda'.
  const [inverse, p, w] = [0, 1, 2].map(() => new Float64Array(classes * square)) as Float64Array[];
  const [first, second] = [new Float64Array(square), new Float64Array(square)];
  let own: Float64Array = new Float64Array(square);

  /** Sums over levels of `a_i' G a_j` for every class, G being the slope in the cross-products above: m square each. */
  const momentsOf = (slope: Float64Array): Float64Array => {
    const byKind = new Float64Array(weight.length);
    for (let chunk = 0; chunk < target.length; chunk++) {
      let sum = 0;
      for (let from = start[chunk]!, to = target[chunk]!; from < start[chunk + 1]!; from++, to++)
        sum += sums[from]! * slope[to]!;
      byKind[kindOf[chunk]!]! += sum;
    }
    const moments = new Float64Array(classes * square);
    for (let at = 0; at < classes; at++)
      pairs.forEach(([i, j], k) => {
        const sum = byKind[at * pairs.length + k]!;
        moments[at * square + i * m + j] = moments[at * square + j * m + i] = i === j ? sum : sum / 2;
      });
    return moments;
  };

  return {
    factor,
    evaluate(lambda) {
      own = lambda[0]!;
      let ofOwn = 0;
      for (let at = 0; at < classes; at++) {
        const here = at * square;
        times(m, [first, 0], [products, here], [own, 0]);
        transposeTimes(m, [inverse!, here], [own, 0], [first, 0]);
        for (let i = 0; i < m; i++) inverse![here + i * m + i]! += 1;
        ofOwn += levels[at]! * invertInPlace(m, [inverse!, here]);
        times(m, [p!, here], [own, 0], [inverse!, here]);
        timesTranspose(m, [w!, here], [p!, here], [own, 0]);
        pairs.forEach(([i, j], k) => (weight[at * pairs.length + k] = w![here + i * m + j]!));
      }
      if (!Number.isFinite(ofOwn)) return null;
      values.set(plain);
      for (let chunk = 0; chunk < target.length; chunk++) {
        const part = weight[kindOf[chunk]!]!;
        for (let from = start[chunk]!, to = target[chunk]!; from < start[chunk + 1]!; from++, to++)
          values[to]! -= part * sums[from]!;
      }
      refreshRoot(factor);
      if (!factorise(factor, lambda.slice(1))) return null;
      const parts = criterionParts(factor);
      return { ...parts, logDetRandom: parts.logDetRandom + ofOwn };
    },
    slopes(method) {
      const coarser = slopes(factor, method, { logDet: slopeOfLogDet, residual: slopeOfResidual });
      const [ofLogDet, ofResidual] = [momentsOf(slopeOfLogDet), momentsOf(slopeOfResidual)];
      const [logDet, residual, spread, outer] = [0, 1, 2, 3].map(() => new Float64Array(square)) as Float64Array[];
      // With Q the moments, dW = (I - W N) dLambda P' and its transpose, so that tr(Q dW) has the slope 2 (I - N W) Q P.
      const left = new Float64Array(square);
      for (let at = 0; at < classes; at++) {
        const here = at * square;
        times(m, [left, 0], [products, here], [w!, here]);
        for (let i = 0; i < square; i++) left[i] = (i % (m + 1) === 0 ? 1 : 0) - left[i]!;
        times(m, [first, 0], [products, here], [p!, here]);
        for (let i = 0; i < square; i++) {
          logDet![i]! += levels[at]! * first[i]!;
          spread![i]! += levels[at]! * inverse![here + i]!;
        }
        times(m, [first, 0], [ofLogDet, here], [p!, here]);
        times(m, [second, 0], [left, 0], [first, 0]);
        for (let i = 0; i < square; i++) logDet![i]! -= second[i]!;
        transposeTimes(m, [second, 0], [p!, here], [first, 0]);
        for (let i = 0; i < square; i++) spread![i]! += second[i]!;
        times(m, [first, 0], [ofResidual, here], [p!, here]);
        times(m, [second, 0], [left, 0], [first, 0]);
        for (let i = 0; i < square; i++) residual![i]! += second[i]!;
        transposeTimes(m, [second, 0], [p!, here], [first, 0]);
        for (let i = 0; i < square; i++) outer![i]! += second[i]!;
      }
      return {
        logDet: [logDet!, ...coarser.logDet],
        residual: [residual!, ...coarser.residual],
        spread: [spread!, ...coarser.spread],
        outer: [outer!, ...coarser.outer],
      };
    },
    solution() {
      const { x: coarser, modes: above } = slopes(factor, 'REML');
      const scalars = leaves * m;
      const x = new Float64Array(scalars + coarser.length);
      const modes = new Float64Array(scalars + above.length);
      x.set(coarser, scalars);
      modes.set(above, scalars);
      const { rowStart, rows, panelStart, panel, randomScalars, fixedCount } = whole;
      const moment = new Float64Array(m);
      for (let leaf = 0; leaf < leaves; leaf++) {
        let at = panelStart[leaf]! + m * m;
        moment.fill(0);
        for (let k = rowStart[leaf]!; k < rowStart[leaf + 1]!; k++) {
          const met = rows[k]!;
          const taken = met === randomScalars + fixedCount ? -1 : met < randomScalars ? modes[met]! : x[met]!;
          for (let e = 0; e < m; e++) moment[e]! -= panel[at++]! * taken;
        }
        const here = summed.classOf[leaf]! * square;
        for (let e = 0; e < m; e++) for (let f = 0; f < m; f++) x[leaf * m + e]! += p![here + f * m + e]! * moment[f]!;
        for (let e = 0; e < m; e++)
          for (let f = 0; f < m; f++) modes[leaf * m + e]! += own[e * m + f]! * x[leaf * m + f]!;
      }
      return { x, modes };
    },
  };
}

/**
 * The engine for a model: the finest grouping is summed up when it is nested in all others and enough of its levels are alike. `factor` is that of
 * all levels, prepared when first asked for.
 */
export function engineOf(products: CrossProducts): { readonly engine: Engine; readonly factor: () => Factor } {
  const summed = sumLevels(products);
  let whole = summed ? null : prepareFactor(products);
  return {
    engine: summed ? summedEngine(products, summed) : plainEngine(whole!),
    factor: () => (whole ??= prepareFactor(products)),
  };
}
