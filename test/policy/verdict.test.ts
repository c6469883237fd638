import { expect, test } from 'vitest';
import type { ShareChoice } from '../../src/policy/share.ts';
import { judge, weightsText } from '../../src/policy/verdict.ts';

const choice: ShareChoice = {
  share: 0.6,
  low: 0.5,
  high: 0.7,
  fineLow: 0.3,
  fineHigh: 0.9,
  clipped: 'no',
  cost: 0.5,
  regret: 0.02,
};
const ends = { twelfthExact: 1.2, seventeenthExact: 0.55 };
const known = { instruments: 4, fromOthers: 2 };
const verdictOf = (change: Partial<ShareChoice>, costs = ends): string =>
  judge({ ...choice, ...change }, costs, known).verdict;

test.each<[string, Partial<ShareChoice>]>([
  ['12th exact', { share: 0, fineLow: 0 }],
  ['split', {}],
  ['favour the 17th', { share: 0.8 }],
  ['either', { fineLow: 0, fineHigh: 1 }],
  ['measure more first', { regret: 0.101 }],
])('judge says "%s" where the choice is so', (verdict, change) => {
  expect(verdictOf(change)).toBe(verdict);
});

// By hand: regret falls as 1/n from 4 + 2 instruments' worth, so 0.25 comes to 0.1 at n = 15, 9 more; 0.11 at 6.6, 1 more.
test('judge says how many more instruments to measure', () => {
  expect(judge({ ...choice, regret: 0.25 }, ends, known).reason).toBe(
    'not knowing the model costs 0.25 cents; about 9 more instruments would bring that under 0.1',
  );
  expect(judge({ ...choice, regret: 0.11 }, ends, known).reason).toContain('about 1 more instrument would');
  expect(judge({ ...choice, regret: 0.25 }, ends, { instruments: 0, fromOthers: 2 }).reason).toBe(
    "no instrument of this model was read and the shop's mean stands in; not knowing the model costs 0.25 cents; about 3 more instruments would bring that under 0.1",
  );
});

test('judge says what either end would cost instead, and that the best share lay beyond one', () => {
  expect(judge(choice, ends, known).reason).toBe(
    '12th exact would cost 0.7 cents more; 17th exact would sound the same and leave larger errors',
  );
  expect(judge({ ...choice, share: 1, clipped: 'at the 17th' }, ends, known).reason).toBe(
    '12th exact would cost 0.7 cents more; the best share lay beyond the 17th and was moved to it',
  );
});

test('weightsText gives both weights to the nearest 5, and they add up to 100', () => {
  expect([0, 0.37, 0.625, 1].map(weightsText)).toEqual(['100/0', '65/35', '35/65', '0/100']);
});
