import { describe, expect, test } from 'vitest';
import { lambdaOf, requireEvaluation } from '../../../src/statistics/mixed/criterion.ts';
import type { Columns, MixedDescription } from '../../../src/statistics/mixed/description.ts';
import { fitMixed } from '../../../src/statistics/mixed/fit-mixed.ts';
import { fullCriterion, prepareModel, readModel, type Method } from '../../../src/statistics/mixed/model.ts';
import { normalRandom, uniformRandom } from '../../../src/statistics/random.ts';

/** Readings of two crossed factors, one of them nested in a third, with a covariate and weights. */
function crossed(): Columns {
  const normal = normalRandom(3);
  const uniform = uniformRandom(4);
  const length = 90;
  const item = Array.from({ length }, () => Math.floor(uniform() * 12));
  const x = Array.from({ length }, () => 2 + normal());
  return {
    y: x.map((value, i) => 100 + value + item[i]! / 3 + normal()),
    x,
    item,
    family: item.map((value) => `f${value % 3}`),
    rater: Array.from({ length }, () => `r${Math.floor(uniform() * 5)}`),
    w: Array.from({ length }, () => 0.5 + uniform()),
  };
}

/** Three nested groupings, the finest with equal numbers of readings. */
function nested(): Columns {
  const normal = normalRandom(5);
  const length = 96;
  const c = Array.from({ length }, (_, i) => Math.floor(i / 3));
  return {
    y: c.map((value) => 10 + (value % 7) / 2 + normal()),
    x: Array.from({ length }, (_, i) => (i % 3) - 0.5),
    a: c.map((value) => `a${Math.floor(value / 8)}`),
    b: c.map((value) => `b${Math.floor(value / 4)}`),
    c,
  };
}

const models: Record<string, { columns: Columns; description: MixedDescription; theta: number[] }> = {
  'crossed and nested vector effects with weights': {
    columns: crossed(),
    description: {
      response: 'y',
      fixed: [{ numeric: 'x' }, { categorical: 'family', contrasts: 'sum' }],
      random: [
        { group: ['item'], effects: ['1', 'x'] },
        { group: ['rater'], effects: ['1'] },
        { group: ['family', 'rater'], effects: ['1', 'x'], covariance: 'independent' },
      ],
      weights: 'w',
    },
    theta: [0.3, 0.8, 0.2, 0.5, 0.9, 1.3],
  },
  'nested intercepts, like levels summed up': {
    columns: nested(),
    description: {
      response: 'y',
      fixed: [{ numeric: 'x' }],
      random: [['a'], ['b'], ['c']].map((group) => ({ group, effects: ['1'] })),
    },
    theta: [0.7, 0.4, 1.2],
  },
  'nested vector effects, like levels summed up': {
    columns: nested(),
    description: {
      response: 'y',
      fixed: [{ numeric: 'x' }],
      random: [
        { group: ['a'], effects: ['1'] },
        { group: ['b'], effects: ['1', 'x'], covariance: 'independent' },
        { group: ['c'], effects: ['1', 'x'] },
      ],
    },
    theta: [0.7, 0.4, 0.3, 1.2, -0.2, 0.6],
  },
  'nested vector effects of two kinds of levels, weighted': {
    columns: { ...nested(), w: Array.from({ length: 96 }, (_, i) => (Math.floor(i / 3) % 2 === 0 ? 2 : 0.5)) },
    description: {
      response: 'y',
      fixed: [{ numeric: 'x' }],
      random: [
        { group: ['a'], effects: ['1', 'x'] },
        { group: ['c'], effects: ['1', 'x'] },
      ],
      weights: 'w',
    },
    theta: [0.7, 0.4, 0.3, 1.2, -0.2, 0.6],
  },
  'a slope above like levels': {
    columns: nested(),
    description: {
      response: 'y',
      fixed: [{ numeric: 'x' }],
      random: [
        { group: ['a'], effects: ['1', 'x'] },
        { group: ['c'], effects: ['1'] },
      ],
    },
    theta: [0.7, 0.4, -0.3, 1.2],
  },
};

const cases = Object.entries(models).flatMap(([name, model]) =>
  (['REML', 'ML'] as const).map((method) => ({ name, method, ...model })),
);

/** Cholesky factor's diagonal and the solution, by the textbook: independent of the engine. */
function denseSolve(a: number[][], right: number[][]): { logDet: number; solution: number[][] } {
  const n = a.length;
  const work = a.map((row, i) => [...row, ...right[i]!]);
  let logDet = 0;
  for (let k = 0; k < n; k++) {
    logDet += Math.log(work[k]![k]!);
    for (let i = 0; i < n; i++) {
      if (i === k) continue;
      const share = work[i]![k]! / work[k]![k]!;
      for (let j = k; j < work[k]!.length; j++) work[i]![j]! -= share * work[k]![j]!;
    }
  }
  return { logDet, solution: work.map((row, i) => row.slice(n).map((value) => value / row[i]!)) };
}

/** -2 log (restricted) likelihood from the n by n covariance matrix, sigma profiled out. */
function denseCriterion(
  columns: Columns,
  description: MixedDescription,
  { theta, method }: { theta: number[]; method: Method },
): number {
  const data = readModel(columns, description);
  const model = prepareModel(data, method);
  const n = data.response.length;
  const lambda = lambdaOf(theta, model.criterion.parameters, model.products.size);
  const v = Array.from({ length: n }, (_, i) =>
    Array.from({ length: n }, (_other, j) => {
      let sum = i === j ? 1 / (data.weights?.[i] ?? 1) : 0;
      data.groupings.forEach(({ codes, values, size: m }, g) => {
        if (codes[i] !== codes[j]) return;
        for (let e = 0; e < m; e++)
          for (let f = 0; f < m; f++)
            for (let k = 0; k < m; k++)
              sum +=
                ((values[e]?.[i] ?? 1) * lambda[g]![e * m + k]! * lambda[g]![f * m + k]! * (values[f]?.[j] ?? 1)) /
                model.effectScale[g]![e]! /
                model.effectScale[g]![f]!;
      });
      return sum;
    }),
  );
  const p = data.design.names.length;
  const x = Array.from({ length: n }, (_, i) => {
    const row = new Array<number>(p).fill(0);
    for (let at = data.design.start[i]!; at < data.design.start[i + 1]!; at++)
      row[data.design.columns[at]!] = data.design.values[at]!;
    return row;
  });
  const y = [...data.response];
  const { logDet, solution } = denseSolve(
    v,
    x.map((row, i) => [...row, y[i]!]),
  );
  const cross = Array.from({ length: p + 1 }, (_, j) =>
    Array.from({ length: p + 1 }, (_other, k) =>
      x.reduce((sum, row, i) => sum + (j < p ? row[j]! : y[i]!) * solution[i]![k]!, 0),
    ),
  );
  const inner = denseSolve(
    cross.slice(0, p).map((row) => row.slice(0, p)),
    cross.slice(0, p).map((row) => [row[p]!]),
  );
  const squares = cross[p]![p]! - inner.solution.reduce((sum, [beta], j) => sum + beta! * cross[p]![j]!, 0);
  const df = n - (method === 'REML' ? p : 0);
  return logDet + (method === 'REML' ? inner.logDet : 0) + df * (1 + Math.log((2 * Math.PI * squares) / df));
}

describe.each(cases)('the criterion of $name by $method', ({ columns, description, theta, method }) => {
  // Harville (1977), J. Am. Stat. Assoc. 72, 320-338: the likelihood from the marginal covariance matrix.
  test('is that of the dense covariance matrix', () => {
    const model = prepareModel(readModel(columns, description), method);
    const { logDet, residual } = requireEvaluation(model.criterion, Float64Array.from(theta));
    expect(fullCriterion(model, logDet, residual)).toBeCloseTo(
      denseCriterion(columns, description, { theta, method }),
      8,
    );
  });

  test('has the gradient that differences of it show', () => {
    const { criterion } = prepareModel(readModel(columns, description), method);
    const at = Float64Array.from(theta);
    criterion.value(at);
    const gradient = criterion.gradient();
    const step = 1e-5;
    gradient.forEach((slope, k) => {
      const [up, down] = [at.slice(), at.slice()];
      up[k]! += step;
      down[k]! -= step;
      expect(slope).toBeCloseTo((criterion.value(up) - criterion.value(down)) / (2 * step), 5);
    });
  });
});

test('fitMixed of collapsed repeats is the fit of the rows before', () => {
  const columns = nested();
  const keys = (columns.c as number[]).map((c, i) => `${c}:${(i % 3) % 2}`);
  const distinct = [...new Set(keys)];
  const rowsOf = (key: string): number[] => keys.flatMap((other, i) => (other === key ? [i] : []));
  const y = columns.y as number[];
  const mean = (rows: number[]): number => rows.reduce((sum, i) => sum + y[i]!, 0) / rows.length;
  const pick = (name: string): (string | number)[] => distinct.map((key) => columns[name]![rowsOf(key)[0]!]!);
  const collapsed: Columns = {
    a: pick('a') as string[],
    b: pick('b') as string[],
    mean: distinct.map((key) => mean(rowsOf(key))),
    count: distinct.map((key) => rowsOf(key).length),
    squares: distinct.map((key) => rowsOf(key).reduce((sum, i) => sum + (y[i]! - mean(rowsOf(key))) ** 2, 0)),
  };
  const random = [['a'], ['b']].map((group) => ({ group, effects: ['1'] }));
  const long = fitMixed(columns, { response: 'y', fixed: [], random });
  const short = fitMixed(collapsed, {
    response: 'mean',
    fixed: [],
    random,
    repeats: { count: 'count', sumOfSquares: 'squares' },
  });
  expect(short.observations).toBe(96);
  expect(short.criterion).toBeCloseTo(long.criterion, 9);
  expect(short.sigma).toBeCloseTo(long.sigma, 9);
  expect(short.fixed[0]!.standardError).toBeCloseTo(long.fixed[0]!.standardError, 9);
});

test('fitMixed does not depend on the units of response and covariates', () => {
  const columns = crossed();
  const { description } = models['crossed and nested vector effects with weights']!;
  const scaled: Columns = {
    ...columns,
    y: (columns.y as number[]).map((value) => 1e6 + 1000 * value),
    x: (columns.x as number[]).map((value) => 1e-3 * value),
  };
  const [plain, other] = [fitMixed(columns, description), fitMixed(scaled, description)];
  expect(other.sigma / plain.sigma).toBeCloseTo(1000, 4);
  expect(other.fixed[1]!.estimate / plain.fixed[1]!.estimate / 1e6).toBeCloseTo(1, 6);
  expect(other.fixed[1]!.df / plain.fixed[1]!.df).toBeCloseTo(1, 4);
});
