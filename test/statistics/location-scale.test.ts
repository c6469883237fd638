import { expect, test } from 'vitest';
import {
  huberLocation,
  madToSigma,
  median,
  medianAbsoluteDeviation,
  quantile,
} from '../../src/statistics/location-scale.ts';

// Analytical Methods Committee (1989), The Analyst 114, 1693: 24 determinations of copper in wholemeal flour, data set
// chem of R package MASS 7.3-58.2, whose huber(chem) gives location 3.20672412964352 and scale 0.526323.
const chem = [
  2.9, 3.1, 3.4, 3.4, 3.7, 3.7, 2.8, 2.5, 2.4, 2.4, 2.7, 2.2, 5.28, 3.37, 3.03, 3.03, 28.95, 3.77, 3.4, 2.2, 3.5, 3.6,
  3.7, 3.7,
];

test('median and medianAbsoluteDeviation agree with the printed values for chem', () => {
  expect(median(chem)).toBeCloseTo(3.385, 12);
  // The reference rounds the factor to 1.4826.
  expect(medianAbsoluteDeviation(chem) / madToSigma).toBeCloseTo(0.526323 / 1.4826, 12);
});

test('huberLocation agrees with the printed value for chem and doubts the largest value', () => {
  const { location, scale, weights } = huberLocation(chem);
  expect(location).toBeCloseTo(3.20672412964352, 5);
  expect(scale).toBeCloseTo(0.526323, 5);
  expect(weights[16]).toBeLessThan(0.05);
});

// Hyndman & Fan (1996), definition 7, by hand: (n - 1) p = 0.75 and 2.7 from the first of 1, 2, 4, 8.
test('quantile interpolates between order statistics by definition 7', () => {
  expect(quantile([8, 1, 4, 2], 0.25)).toBeCloseTo(1.75, 15);
  expect(quantile([8, 1, 4, 2], 0.9)).toBeCloseTo(6.8, 14);
  expect(quantile([3], 0.3)).toBe(3);
});

test('huberLocation of values of which most are equal is their median', () => {
  expect(huberLocation([2, 2, 2, 9]).location).toBe(2);
});

test.each<[() => unknown, string]>([
  [() => median([]), 'Cannot find the median of no values; expected at least 1'],
  [() => median([1, NaN]), 'Cannot find the median: value 2 is NaN'],
  [() => quantile([1, 2], 1.5), 'Cannot find the quantile at 1.5; expected a probability from 0 to 1'],
])('location and scale refuse what has none: %#', (call, message) => {
  expect(call).toThrow(new RangeError(message));
});
