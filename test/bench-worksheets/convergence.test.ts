import { describe, expect, test } from 'vitest';
import { type BenchPlan, percentile, simulateBench } from './simulated-bench.ts';

const usual: BenchPlan = {
  seed: 5,
  instruments: 400,
  noise: 0.5,
  step: 0.1,
  screw: [0.6, 1.6],
  mmPerTurn: 0.7,
  received: 6,
};

// Seeded simulation from known truth. The aim, a median of at most 2 moves, is the project's own.
describe.each<[string, BenchPlan]>([
  ['a screw that travels 0.6 to 1.6 times what is stated', usual],
  ['a screw of which nothing is stated', { ...usual, mmPerTurn: null }],
  ['two strings on a saddle', { ...usual, strings: 2 }],
  ['six strings on a bridge', { ...usual, strings: 6 }],
  ['a tuner that shows whole cents', { ...usual, step: 1 }],
])('a technician with reading noise of 0.5 cents and %s', (_, plan) => {
  const outcomes = simulateBench(plan);
  const moves = outcomes.map((one) => one.moves);
  const moved = moves.filter((count) => count > 0);

  test('reaches the window in a median of at most 2 moves, and 95 of 100 in at most 4', () => {
    expect(moved.length).toBeGreaterThan(200);
    expect(percentile(moved, 0.5)).toBeLessThanOrEqual(2);
    expect(percentile(moved, 0.95)).toBeLessThanOrEqual(4);
  });

  test('leaves the true 12th within the window of its target, root mean square', () => {
    const square = outcomes.reduce((sum, { left }) => sum + left ** 2, 0) / outcomes.length;
    // Window 0.98 cents; within it the true 12th is a reading's noise and the rise's uncertainty away.
    expect(Math.sqrt(square)).toBeLessThan(0.98);
  });
});

test('a screw that is as stated takes one move in most cases', () => {
  const outcomes = simulateBench({ ...usual, screw: [1, 1] });
  const moves = outcomes.map((one) => one.moves);
  expect(percentile(moves, 0.9)).toBe(1);
});
