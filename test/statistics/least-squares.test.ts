import { describe, expect, test } from 'vitest';
import { fitLinear, fitPolynomial } from '../../src/statistics/least-squares.ts';
import * as nist from './nist-strd.ts';
import { referenceColumns, referenceJson, relativeError } from './reference-data.ts';

const named = (x: readonly (readonly number[])[]): { names: string[]; columns: readonly (readonly number[])[] } => ({
  names: x.map((_, j) => `b${j}`),
  columns: x,
});

// NIST StRD certified values, see nist-strd.ts. Powers of x given as ready columns carry their own rounding, which the
// tenth power of Filip magnifies to 1e-8; as a polynomial it keeps every digit.
describe.each([
  ['Norris', nist.norris, 1e-12],
  ['Pontius', nist.pontius, 1e-12],
  ['Longley', nist.longley, 1e-12],
  ['Wampler3', nist.wampler3, 1e-12],
  ['NoInt1', nist.noInt1, 1e-13],
  ['NoInt2', nist.noInt2, 1e-13],
  ['Filip', nist.filip, 1e-7],
] as const)('fitLinear on NIST StRD %s', (_, certified, tolerance) => {
  const fit = fitLinear({ response: certified.y, ...named(certified.x) });
  test('agrees with the certified estimates and standard deviations', () => {
    expect(fit.dropped).toEqual([]);
    fit.coefficients.forEach((found, k) => {
      expect(relativeError(found.estimate, certified.estimates[k]!)).toBeLessThan(tolerance);
      expect(relativeError(found.standardError, certified.standardErrors[k]!)).toBeLessThan(tolerance);
    });
  });
  test('agrees with the certified residual standard deviation and R-squared', () => {
    expect(relativeError(fit.sigma, certified.sigma)).toBeLessThan(tolerance);
    expect(fit.rSquared).toBeCloseTo(certified.rSquared, 9);
  });
});

test.each([
  ['Wampler1', nist.wampler1],
  ['Wampler2', nist.wampler2],
])('fitLinear on NIST StRD %s finds the exact polynomial', (_, certified) => {
  const fit = fitLinear({ response: certified.y, ...named(certified.x) });
  fit.coefficients.forEach((found, k) =>
    expect(relativeError(found.estimate, certified.estimates[k]!)).toBeLessThan(1e-10),
  );
  expect(fit.sigma).toBeLessThan(1e-12);
});

test('fitPolynomial agrees with all printed digits of NIST StRD Filip', () => {
  const fit = fitPolynomial({ x: nist.filip.x[1]!, response: nist.filip.y, degree: 10 });
  fit.coefficients.forEach((found, k) => {
    expect(relativeError(found.estimate, nist.filip.estimates[k]!)).toBeLessThan(2e-14);
    expect(relativeError(found.standardError, nist.filip.standardErrors[k]!)).toBeLessThan(5e-15);
  });
  expect(relativeError(fit.sigma, nist.filip.sigma)).toBeLessThan(5e-15);
});

// data/reference/linear-models.source.md: 50-digit solutions.
test('fitLinear agrees with the high-precision fit of stackloss', () => {
  const { stackloss_lm: reference } = referenceJson('linear-models') as {
    stackloss_lm: { coef: string[]; se: string[]; sigma: string; rss: string };
  };
  const data = referenceColumns('stackloss') as Record<string, number[]>;
  const names = ['Air.Flow', 'Water.Temp', 'Acid.Conc.'];
  const fit = fitLinear({
    response: data['stack.loss']!,
    names: ['(Intercept)', ...names],
    columns: [data['stack.loss']!.map(() => 1), ...names.map((name) => data[name]!)],
  });
  fit.coefficients.forEach((found, k) => {
    expect(relativeError(found.estimate, Number(reference.coef[k]))).toBeLessThan(1e-13);
    expect(relativeError(found.standardError, Number(reference.se[k]))).toBeLessThan(1e-13);
  });
  expect(relativeError(fit.sigma, Number(reference.sigma))).toBeLessThan(1e-13);
  expect(relativeError(fit.residualSquares, Number(reference.rss))).toBeLessThan(1e-13);
});

test('fitLinear names a dependent column and the columns it is made of', () => {
  const a = [1, 2, 4, 7, 11];
  const b = [3, -1, 0, 2, 5];
  const fit = fitLinear({
    response: [1, 3, 2, 5, 4],
    names: ['a', 'b', 'c'],
    columns: [a, b, a.map((x, i) => 2 * x - b[i]!)],
  });
  expect(fit.dropped).toEqual([{ term: 'c', combinationOf: ['a', 'b'] }]);
  expect(fit.coefficients.map(({ term }) => term)).toEqual(['a', 'b']);
});

test('fitLinear with whole weights equals the fit with rows repeated', () => {
  const x = [1, 2, 3, 4];
  const y = [2.1, 3.9, 6.2, 7.7];
  const weights = [1, 3, 2, 1];
  const repeat = (values: readonly number[]): number[] =>
    values.flatMap((v, i) => Array.from({ length: weights[i]! }, () => v));
  const once = fitLinear({ response: y, names: ['1', 'x'], columns: [x.map(() => 1), x], weights });
  const often = fitLinear({ response: repeat(y), names: ['1', 'x'], columns: [repeat(x.map(() => 1)), repeat(x)] });
  once.coefficients.forEach(({ estimate }, k) => expect(estimate).toBeCloseTo(often.coefficients[k]!.estimate, 12));
});

test('fitLinear has leverages that sum to the number of coefficients', () => {
  const fit = fitLinear({ response: nist.longley.y, ...named(nist.longley.x) });
  expect(fit.leverages.reduce((sum, h) => sum + h, 0)).toBeCloseTo(7, 10);
});

test.each<[string, Parameters<typeof fitLinear>[0], string]>([
  [
    'a value that is not finite',
    { response: [1, NaN, 3], names: ['x'], columns: [[1, 2, 3]] },
    'Cannot fit: the response holds NaN in row 2; expected a finite number',
  ],
  [
    'a weight of zero',
    { response: [1, 2, 3], names: ['x'], columns: [[1, 2, 3]], weights: [1, 1, 0] },
    'Cannot fit: the weight in row 3 is 0; expected more than 0',
  ],
  [
    'a short column',
    { response: [1, 2, 3], names: ['x'], columns: [[1, 2]] },
    'Cannot fit: column "x" has 2 rows; expected 3',
  ],
  [
    'as many coefficients as rows',
    {
      response: [1, 2],
      names: ['1', 'x'],
      columns: [
        [1, 1],
        [1, 2],
      ],
    },
    'Cannot fit 2 coefficients to 2 rows and estimate their spread; expected more rows',
  ],
])('fitLinear refuses %s', (_, problem, message) => {
  expect(() => fitLinear(problem)).toThrow(new RangeError(message));
});

test.each([0, 1, 95, NaN])('fitLinear gives no interval at level %d', (level) => {
  expect(() => fitLinear({ response: [1, 2, 4], names: ['x'], columns: [[1, 2, 3]] }, level)).toThrow(
    new RangeError(`Cannot give an interval at level ${level}; expected a part between 0 and 1, such as 0.95`),
  );
});
