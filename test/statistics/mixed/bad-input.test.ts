import { describe, expect, test } from 'vitest';
import type { Columns, MixedDescription } from '../../../src/statistics/mixed/description.ts';
import { fitMixed } from '../../../src/statistics/mixed/fit-mixed.ts';

const good: Columns = {
  y: [1, 3, 2, 5, 4, 6, 8, 7],
  x: [1, 2, 3, 4, 1, 2, 3, 4],
  twice: [2, 4, 6, 8, 2, 4, 6, 8],
  g: ['a', 'a', 'a', 'b', 'b', 'c', 'c', 'c'],
};
const model: MixedDescription = {
  response: 'y',
  fixed: [{ numeric: 'x' }],
  random: [{ group: ['g'], effects: ['1'] }],
};

describe('fitMixed refuses', () => {
  test.each<[string, Columns, Partial<MixedDescription>, string]>([
    [
      'a response that is not a number, with its rows',
      { ...good, y: [1, NaN, 2, 5, Infinity, 6, 8, 7] },
      {},
      'Cannot fit: column "y" holds NaN in rows 2, 5; expected a finite number in every row',
    ],
    [
      'many rows that are not numbers, five of them named',
      { ...good, x: [NaN, NaN, NaN, NaN, NaN, NaN, 3, 4] },
      {},
      'Cannot fit: column "x" holds NaN in rows 1, 2, 3, 4, 5 and 1 more; expected a finite number in every row',
    ],
    [
      'text where a number is wanted',
      { ...good, x: good.g! },
      {},
      'Cannot fit: column "x" holds a in rows 1, 2, 3, 4, 5 and 3 more; expected a finite number in every row',
    ],
    [
      'weights of zero or less',
      { ...good, w: [1, 1, 0, 1, -2, 1, 1, 1] },
      { weights: 'w' },
      'Cannot fit: the weight "w" is 0 in rows 3, 5; expected more than 0 in every row',
    ],
    [
      'a missing label',
      { ...good, g: ['a', 'a', null as unknown as string, 'b', 'b', 'c', 'c', 'c'] },
      {},
      'Cannot fit: column "g" has no label in row 3; expected a label in every row',
    ],
    [
      'a column that is not there',
      good,
      { fixed: [{ numeric: 'speed' }] },
      'Cannot fit: no column "speed" for a fixed term; the columns are "y", "x", "twice", "g"',
    ],
    [
      'columns of different lengths',
      { ...good, x: [1, 2, 3] },
      {},
      'Cannot fit: column "x" has 3 rows; expected 8, as the response has',
    ],
    [
      'a constant response',
      { ...good, y: new Float64Array(8).fill(3.5) },
      {},
      'Cannot fit: the response is 3.5 in every row; expected one that varies',
    ],
    [
      'a response that the fixed terms explain exactly',
      { ...good, y: [3, 5, 7, 9, 3, 5, 7, 9] },
      {},
      'Cannot fit: the fixed terms explain the response exactly; expected some variation beyond them',
    ],
    [
      'as many random effects as readings',
      { ...good, g: [1, 2, 3, 4, 5, 6, 7, 8] },
      {},
      'Cannot tell 8 random effects of g (8 levels, 1 each) from the residuals of 8 readings; expected fewer effects than readings',
    ],
    [
      'a grouping with one level',
      { ...good, g: ['a', 'a', 'a', 'a', 'a', 'a', 'a', 'a'] },
      {},
      'Cannot estimate a variance between levels of g: every row has the level "a"; expected at least 2 levels',
    ],
    [
      'more fixed coefficients than readings',
      { y: [1, 2, 4], g: ['a', 'a', 'b'], h: ['p', 'q', 'r'] },
      { fixed: [{ categorical: 'h' }] },
      'Cannot fit: the fixed terms explain the response exactly; expected some variation beyond them',
    ],
    [
      'the same random effect twice',
      good,
      {
        random: [
          { group: ['g'], effects: ['1'] },
          { group: ['g'], effects: ['1'] },
        ],
      },
      'Cannot use the random effect 1 of g twice; its two variances could not be told apart',
    ],
    [
      'an interaction of one term',
      good,
      { fixed: [{ interaction: [{ numeric: 'x' }] }] },
      'Cannot build an interaction of 1 terms; expected at least 2',
    ],
    ['no rows', { y: [], x: [], g: [] }, {}, 'Cannot fit: column "y" has no rows'],
  ])('%s', (_, columns, change, message) => {
    expect(() => fitMixed(columns, { ...model, ...change })).toThrow(new RangeError(message));
  });
});

describe('fitMixed accepts', () => {
  test('dependent fixed columns, and names those it dropped', () => {
    const fit = fitMixed(good, { ...model, fixed: [{ numeric: 'x' }, { numeric: 'twice' }] });
    expect(fit.dropped).toEqual(['twice']);
    expect(fit.fixed.map(({ term }) => term)).toEqual(['(Intercept)', 'x']);
    const without = fitMixed(good, model);
    expect(fit.criterion).toBeCloseTo(without.criterion, 10);
  });

  test('a column of zeros, and drops it', () => {
    const fit = fitMixed(
      { ...good, zero: new Float64Array(8) },
      { ...model, fixed: [{ numeric: 'zero' }, { numeric: 'x' }] },
    );
    expect(fit.dropped).toEqual(['zero']);
  });

  test('indicators of every level beside an intercept, and drops the last', () => {
    const columns = { ...good, h: ['p', 'q', 'r', 'p', 'q', 'r', 'p', 'q'] };
    const fit = fitMixed(columns, { ...model, fixed: [{ categorical: 'h', contrasts: 'indicator' }] });
    expect(fit.dropped).toEqual(['h[r]']);
  });

  test('a group with one row', () => {
    const fit = fitMixed({ ...good, g: ['a', 'a', 'a', 'a', 'b', 'b', 'b', 'c'] }, model);
    expect(fit.levels).toEqual({ g: 3 });
    expect(fit.convergence.converged).toBe(true);
  });
});

// Two independent effects of 5 levels each on 8 rows: each could be told from the residuals alone, as in two terms of their own.
test('fitMixed counts independent effects of one grouping one by one', () => {
  const columns = { ...good, g: ['a', 'a', 'b', 'b', 'c', 'c', 'd', 'e'] };
  const independent = { ...model, random: [{ group: ['g'], effects: ['1', 'x'], covariance: 'independent' as const }] };
  expect(fitMixed(columns, independent).levels).toEqual({ g: 5 });
  expect(() => fitMixed(columns, { ...model, random: [{ group: ['g'], effects: ['1', 'x'] }] })).toThrow(
    'Cannot tell 10 random effects of g (5 levels, 2 each) from the residuals of 8 readings; expected fewer effects than readings',
  );
});
