import { describe, expect, test } from 'vitest';
import { controlChart, rangeSigma, type ChartValue } from '../../src/control/control-chart.ts';
import { normalRandom } from '../../src/statistics/random.ts';

const day = 86_400_000;
const valued = (departures: readonly number[]): ChartValue[] =>
  departures.map((departure, at) => ({
    instrument: `I${at}`,
    model: 'Fern',
    technician: 'ann',
    at: at * day,
    departure,
  }));
const chartOf = (departures: readonly number[], shop = 1) =>
  controlChart({ kind: 'technician', name: 'ann' }, valued(departures), { shop, least: 0.1 });

describe('rangeSigma', () => {
  // Seeded simulation from known truth: standard deviation 0.7, a mean that wanders far, and one value in ten wild.
  test('finds the scatter from one value to the next, whatever wanders and however wild a few are', () => {
    const normal = normalRandom(2);
    const values = Array.from({ length: 4000 }, (_, at) => 0.7 * normal() + 5 * Math.sin(at / 500));
    expect(rangeSigma([values])).toBeCloseTo(0.7, 1);
    const wild = values.map((value, at) => (at % 40 === 0 ? value + 50 : value));
    // One value in 40 is one difference in 20: cut at 2.5, these alone make it sqrt((0.95 0.978 + 0.05 6.25) / 0.978) = 1.13 times as
    // large in a step, 1.17 in two.
    expect(rangeSigma([wild]) / rangeSigma([values])).toBeLessThan(1.2);
  });

  test('takes no range from one series to the next', () => {
    const [near, far] = [
      [0, 1, 3],
      [100, 101, 99],
    ];
    expect(rangeSigma([near, far])).toBeCloseTo(rangeSigma([near, far.map((value) => value - 100)]), 10);
    expect(rangeSigma([[1], []])).toBeNaN();
  });
});

describe('controlChart', () => {
  // Average run length 2875 without a shift where sigma is known (R's spc, test/real/spc.test.ts); a sigma 10 % too small makes it
  // about 1000. 40 charts of 50 values then hold 2 false alarms; more than 7 would be seen once in 1000 tries (Poisson).
  test('rarely alarms on a bench that keeps to the standard', () => {
    const normal = normalRandom(21);
    let [alarms, odd] = [0, 0];
    for (let chart = 0; chart < 40; chart++) {
      const { departures, points } = chartOf(Array.from({ length: 50 }, () => 0.6 * normal()));
      alarms += departures.length;
      odd += points.filter(({ isOdd }) => isOdd).length;
    }
    expect(alarms).toBeLessThanOrEqual(7);
    // One in 2149 beyond 3.5 sigma is 1 of 2000; with sigma 10 % too small, one in 610, 3.3.
    expect(odd).toBeLessThanOrEqual(10);
  });

  // Known truth: 1.5 sigma sharp from the 26th instrument on. The change is dated within four instruments in most charts.
  test('sees a lasting shift, its side, its size, and about when it began', () => {
    const normal = normalRandom(22);
    let [found, near, size] = [0, 0, 0];
    for (let chart = 0; chart < 50; chart++) {
      const { departures } = chartOf(Array.from({ length: 45 }, (_, at) => 0.6 * normal() + (at < 25 ? 0 : 0.9)));
      const last = departures.at(-1);
      if (!last?.lasts || last.side !== 'sharp') continue;
      found++;
      if (Math.abs(last.from - 25) <= 4) near++;
      size += last.size;
    }
    expect(found).toBeGreaterThanOrEqual(48);
    expect(near).toBeGreaterThan(35);
    expect(size / found).toBeCloseTo(0.9, 1);
  });

  test('tells a departure that ended from one that lasts', () => {
    const noise = [0.3, -0.3, 0.2, -0.2, 0.1, -0.1];
    const values = Array.from({ length: 60 }, (_, at) => noise[at % 6]! + (at >= 20 && at < 30 ? -2 : 0));
    const { departures } = chartOf(values);
    expect(departures).toHaveLength(1);
    expect(departures[0]).toMatchObject({ side: 'flat', from: 20, lasts: false });
  });

  test('points at one instrument among its like, also where all depart alike', () => {
    const noise = [0.3, -0.3, 0.2, -0.2, 0.1, -0.1];
    const values = Array.from({ length: 40 }, (_, at) => 3 + noise[at % 6]! + (at === 17 ? 4 : 0));
    const { points } = chartOf(values);
    expect(points.flatMap(({ isOdd }, at) => (isOdd ? [at] : []))).toEqual([17]);
  });

  test('judges no chart of fewer than 8 instruments, and takes the shop scatter for fewer than 30', () => {
    const few = chartOf([9, 9, 9, 9, 9, 9, 9]);
    expect(few).toMatchObject({ judged: false, departures: [] });
    expect(few.points.some(({ isOdd }) => isOdd)).toBe(false);
    expect(chartOf([0, 1, 0, 1, 0, 1, 0, 1], 0.4)).toMatchObject({
      judged: true,
      sigma: 0.4,
      sigmaFrom: 'the whole shop',
    });
    // A tuner so coarse that all read alike does not make limits of no width.
    expect(chartOf(Array.from({ length: 30 }, () => 0))).toMatchObject({ judged: true, sigma: 0.1, departures: [] });
    expect(chartOf(Array.from({ length: 30 }, (_, at) => at % 2)).sigmaFrom).toBe('its own instruments');
  });
});
