import { expect, test } from 'vitest';
import { fitTrend } from '../../src/trend/fit-trend.ts';
import { type ShopPlan, simulateShop, usualShop } from '../../src/trend/simulate-shop.ts';

const plan: ShopPlan = { ...usualShop, models: 5, instrumentsPerModel: 5, passes: 1 };

/**
 * Rises of a further model of the same shop: a plan with one model more draws strings and the first models alike, its last
 * model is new.
 */
const rises = (seed: number): readonly number[] =>
  simulateShop(seed, { ...plan, models: plan.models + 1 }).rise.at(-1)!;

// Seeded simulation from known truth: a 95 % interval that left out the spread between models would hold about half.
test('the intervals of a model that was not read hold its rise', () => {
  let [held, all] = [0, 0];
  for (let seed = 1; seed <= 24; seed++) {
    const { unread } = fitTrend(simulateShop(seed, plan).sums);
    rises(seed).forEach((rise, at) => {
      const { low, high } = unread.cells[at]!.rise;
      all++;
      if (low <= rise && rise <= high) held++;
    });
  }
  expect(all).toBe(144);
  expect(held / all).toBeGreaterThan(0.85);
  expect(held / all).toBeLessThan(0.995);
});

test('it has every string that models.csv allows, the unread ones with wider intervals', () => {
  const { unread, shop } = fitTrend(simulateShop(3, plan).sums);
  expect(unread.cells.map(({ string }) => string)).toEqual([1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12]);
  expect(unread.cells.every(({ instruments, raw }) => instruments === 0 && raw === null)).toBe(true);
  // A string that no model has is at the shop's mean: nothing tells it from the others.
  expect(unread.cells[11]!.rise.estimate).toBeCloseTo(shop.estimate, 10);
  const width = (at: number): number => unread.cells[at]!.rise.high - unread.cells[at]!.rise.low;
  expect(width(11)).toBeGreaterThan(width(0));
  expect(unread.covariance).toHaveLength(13);
});
