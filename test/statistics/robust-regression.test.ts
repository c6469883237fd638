import { expect, test } from 'vitest';
import { fitRobust, type Psi } from '../../src/statistics/robust-regression.ts';
import { referenceColumns, referenceJson, relativeError } from './reference-data.ts';

interface Reference {
  readonly coef: readonly string[];
  readonly scale: string;
  readonly weights: readonly string[];
}

const references = referenceJson('linear-models') as Record<`stackloss_rlm_${Psi}`, Reference>;
const data = referenceColumns('stackloss') as Record<string, number[]>;
const names = ['Air.Flow', 'Water.Temp', 'Acid.Conc.'];
const stackloss = {
  response: data['stack.loss']!,
  names: ['(Intercept)', ...names],
  columns: [data['stack.loss']!.map(() => 1), ...names.map((name) => data[name]!)],
};

// data/reference/linear-models.source.md: 50-digit solutions. Standard errors: R 4.2.2, MASS 7.3-58.2, summary.rlm.
test.each<[Psi, number[]]>([
  ['huber', [9.80687229435335, 0.111174962319929, 0.303393403349562, 0.128846345686815]],
  ['bisquare', [9.5313856614898, 0.108051926237785, 0.294870724088213, 0.125226899561216]],
])('fitRobust with psi %s agrees with the reference fit of stackloss', (psi, standardErrors) => {
  const reference = references[`stackloss_rlm_${psi}`];
  const fit = fitRobust(stackloss, { psi });
  expect(fit.converged).toBe(true);
  expect(relativeError(fit.scale, Number(reference.scale))).toBeLessThan(1e-12);
  fit.coefficients.forEach((found, k) => {
    expect(relativeError(found.estimate, Number(reference.coef[k]))).toBeLessThan(1e-12);
    expect(relativeError(found.standardError, standardErrors[k]!)).toBeLessThan(1e-11);
  });
  fit.weights.forEach((weight, row) => expect(weight).toBeCloseTo(Number(reference.weights[row]), 11));
});

test('fitRobust with a bisquare gives a gross outlier no weight and the line through the rest', () => {
  const x = [1, 2, 3, 4, 5, 6, 7, 8];
  const response = x.map((value, i) => 2 + 3 * value + (i % 2 === 0 ? 0.01 : -0.01));
  response[7] = 1000;
  const fit = fitRobust({ response, names: ['1', 'x'], columns: [x.map(() => 1), x] }, { psi: 'bisquare' });
  expect(fit.weights[7]).toBe(0);
  expect(Math.abs(fit.coefficients[1]!.estimate - 3)).toBeLessThan(0.01);
});

test('fitRobust refuses rows of which most lie exactly on a line', () => {
  const x = [1, 2, 3, 4, 5];
  expect(() => fitRobust({ response: x.map((value) => 2 * value), names: ['x'], columns: [x] })).toThrow(
    new RangeError('Cannot estimate a robust scale: more than half of the rows lie exactly on the fit'),
  );
});
