import { expect, test } from 'vitest';
import { collinearity } from '../../src/statistics/collinearity.ts';
import { fitLinear } from '../../src/statistics/least-squares.ts';

// Two estimates with correlation r: eigenvalues 1 + r and 1 - r, variance inflation 1 / (1 - r^2).
test.each([0, 0.5, -0.9, 0.999])('collinearity of two estimates correlated by %d is that of the formula', (r) => {
  const { condition, inflation } = collinearity([
    [4, 6 * r],
    [6 * r, 9],
  ]);
  expect(condition).toBeCloseTo(Math.sqrt((1 + Math.abs(r)) / (1 - Math.abs(r))), 8);
  for (const one of inflation) expect(one).toBeCloseTo(1 / (1 - r ** 2), 6);
});

// The textbook definition: 1 / (1 - R^2) of a column regressed on the others (about 0, as no constant is fitted here).
test('collinearity gives the variance inflation factors of a regression', () => {
  const x = [1, 2, 3, 4, 5, 6, 7, 8].map((at) => [at, at ** 2, Math.sin(at)] as const);
  const columns = [0, 1, 2].map((k) => x.map((row) => row[k]!));
  const names = ['a', 'b', 'c'];
  const response = x.map((_, at) => Math.cos(3 * at));
  const { inflation } = collinearity(fitLinear({ response, names, columns }).covariance.map((row) => [...row]));
  columns.forEach((column, k) => {
    const rest = [0, 1, 2].filter((other) => other !== k);
    const { rSquared } = fitLinear({
      response: column,
      names: rest.map((other) => names[other]!),
      columns: rest.map((other) => columns[other]!),
    });
    expect(inflation[k]).toBeCloseTo(1 / (1 - rSquared), 6);
  });
});

test('collinearity lets an estimate without variance hang on none', () => {
  expect(
    collinearity([
      [1, 0],
      [0, 0],
    ]),
  ).toEqual({ condition: 1, inflation: [1, 1] });
});
