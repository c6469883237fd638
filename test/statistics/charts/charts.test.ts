import { describe, expect, test } from 'vitest';
import { averageRunLength } from '../../../src/statistics/charts/average-run-length.ts';
import { changePoint } from '../../../src/statistics/charts/change-point.ts';
import { ewmaChart } from '../../../src/statistics/charts/ewma.ts';
import { individualsChart, movingRangeSigma } from '../../../src/statistics/charts/individuals.ts';
import { runSignals, type RunRule } from '../../../src/statistics/charts/run-rules.ts';
import { normalRandom } from '../../../src/statistics/random.ts';

describe('individualsChart', () => {
  // NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.2: flow rates of ten batches (as quoted in public
  // test suites).
  const flowRates = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
  test('agrees with the flow rates of the NIST/SEMATECH e-Handbook', () => {
    const { centre, low, high, movingRanges, sigma } = individualsChart(flowRates);
    expect(centre).toBeCloseTo(50.81, 6);
    expect(movingRanges.reduce((sum, range) => sum + range, 0) / 9).toBeCloseTo(1.8778, 4);
    // The handbook divides by 1.128, two digits short of 2 / sqrt(pi).
    expect(Math.abs(high - 55.8041)).toBeLessThan(0.002);
    expect(Math.abs(low - 45.8159)).toBeLessThan(0.002);
    expect(runSignals(flowRates, { centre, sigma }, [1])).toEqual([]);
  });

  // Table of factors, n = 2: d2 = 1.128, D4 = 3.267 (ISO 7870-2; from memory).
  test('limits moving ranges at 3.267 times their mean', () => {
    const { rangeLimit } = individualsChart(flowRates);
    expect(rangeLimit / (16.9 / 9)).toBeCloseTo(3.267, 3);
  });

  test('takes a known centre and sigma', () => {
    expect(individualsChart([1, 2], { centre: 0, sigma: 2 })).toMatchObject({ centre: 0, low: -6, high: 6 });
  });

  test('refuses to take a range of one value', () => {
    expect(() => movingRangeSigma([1])).toThrow(
      'Cannot take moving ranges of 1 values; expected 2 or more in order of time',
    );
  });
});

describe('ewmaChart', () => {
  // NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.4: data, averages and limits (as quoted in public
  // test suites).
  const data = [
    ...[52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5],
    ...[49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1],
  ];
  const averages = [
    ...[50.6, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33],
    ...[50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99],
  ];
  const options = { lambda: 0.3, width: 3, target: 50, sigma: 2.0539 } as const;

  test('agrees with the averages and limits of the NIST/SEMATECH e-Handbook', () => {
    const chart = ewmaChart(data, { ...options, limits: 'steady' });
    chart.forEach(({ average, low, high }, at) => {
      expect(Math.abs(average - averages[at]!)).toBeLessThan(0.00501);
      // The handbook computes with the root of 0.3 / 1.7 cut to 0.4201.
      expect(Math.abs(high - 52.5884)).toBeLessThan(1e-3);
      expect(Math.abs(low - 47.4115)).toBeLessThan(1e-3);
      expect(average > low && average < high).toBe(true);
    });
  });

  // Var z_1 = lambda^2 sigma^2; Var z_2 = lambda^2 (1 + (1 - lambda)^2) sigma^2, from the definition.
  test('has limits that begin at lambda times the width and widen to the steady ones', () => {
    const chart = ewmaChart(data, options);
    expect(chart[0]!.high - 50).toBeCloseTo(3 * 2.0539 * 0.3, 10);
    expect(chart[1]!.high - 50).toBeCloseTo(3 * 2.0539 * 0.3 * Math.sqrt(1 + 0.7 ** 2), 10);
    expect(chart[19]!.high).toBeCloseTo(ewmaChart(data, { ...options, limits: 'steady' })[0]!.high, 5);
  });

  test('is the chart of the values themselves at lambda 1', () => {
    expect(ewmaChart(data, { ...options, lambda: 1 }).map(({ average }) => average)).toEqual(data);
  });

  test('refuses a weight of 0 and a width of 0', () => {
    expect(() => ewmaChart(data, { ...options, lambda: 0 })).toThrow(
      'Cannot weigh the newest value by 0; expected a number above 0 and up to 1',
    );
    expect(() => ewmaChart(data, { ...options, width: 0 })).toThrow(
      'Cannot draw limits 0 times 2.0539 wide; expected a width above 0 and a sigma of 0 or more',
    );
  });
});

describe('runSignals', () => {
  // By the wording of the NIST/SEMATECH e-Handbook, section 6.3.2, on values in sigma.
  test.each<[RunRule, string, number[], number[]]>([
    [1, 'a value beyond three sigma', [0, 3.1, 0, -3.2], [1, 3]],
    [1, 'not one on the line', [3, -3], []],
    [2, 'two of three beyond two sigma', [2.1, 0, 2.2], [2]],
    [2, 'not when they lie on different sides', [2.1, 0, -2.2], []],
    [2, 'not when the third is the fourth', [2.1, 0, 0, 2.2], []],
    [3, 'four of five beyond one sigma', [1.1, 1.1, -2, 1.1, 1.1], [4]],
    [3, 'not three of five', [1.1, 1.1, 0, 0, 1.1], []],
    [4, 'eight in a row on one side', [-1, 1, 1, 1, 1, 1, 1, 1, 1], [8]],
    [4, 'not seven', [1, 1, 1, 1, 1, 1, 1, -1], []],
  ])('rule %i sees %s', (rule, _, values, places) => {
    const signals = runSignals(values, { centre: 0, sigma: 1 }, [rule]);
    expect(signals.map(({ at }) => at)).toEqual(places);
  });

  test('tells the side, about the centre', () => {
    expect(runSignals([10, 3], { centre: 6, sigma: 1 }, [1])).toEqual([{ at: 0, rule: 1, side: 'high' }]);
    expect(runSignals([10, 2.9], { centre: 6, sigma: 1 }, [1])[1]).toEqual({ at: 1, rule: 1, side: 'low' });
  });
});

/** Within four standard errors of the simulation and half a unit of the table's last digit. */
function expectAbout(
  { mean, standardError }: { mean: number; standardError: number },
  published: number,
  digit: number,
): void {
  expect(Math.abs(mean - published)).toBeLessThan(4 * standardError + digit / 2);
}

describe('averageRunLength', () => {
  // One value beyond three sigma: 1 / 0.0026998 = 370.4 (NIST/SEMATECH e-Handbook, section 6.3.2.1: 370); at a shift of 1, 43.89;
  // of 3, 2.00 (Champ & Woodall 1987, Technometrics 29, 393, table 1; from memory, and 1 / (Phi(-2) + Phi(-4)), 1 / Phi(0)).
  test.each([
    [0, 370.4],
    [1, 43.89],
    [3, 2.0],
  ])('of one value beyond three sigma, at a shift of %f, is %f', (shift, published) => {
    expectAbout(averageRunLength({ rules: [1] }, { shift, seed: 1 }), published, 0.1);
  });

  // NIST/SEMATECH e-Handbook, section 6.3.2 (from memory): with the four Western Electric rules a false alarm every 91.75 values.
  // Champ & Woodall (1987), table 1 (from memory): rules 1 and 4 together 152.73; all four at a shift of 1, 9.22.
  test.each<[RunRule[], number, number]>([
    [[1, 2, 3, 4], 0, 91.75],
    [[1, 2, 3, 4], 1, 9.22],
    [[1, 4], 0, 152.73],
  ])('of the Western Electric rules %j, at a shift of %f, is %f', (rules, shift, published) => {
    expectAbout(averageRunLength({ rules }, { shift, seed: 2, runs: 20_000 }), published, 0.01);
  });

  // Lucas & Saccucci (1990), Technometrics 32, table 3: schemes with 500 values between false alarms, steady limits (from memory;
  // test/real/spc.test.ts has the same from R).
  test.each([
    [0.2, 2.962, 0, 500],
    [0.2, 2.962, 0.5, 41.8],
    [0.2, 2.962, 1, 10.5],
    [0.1, 2.814, 0, 500],
    [0.1, 2.814, 0.5, 31.3],
    [0.1, 2.814, 1, 10.3],
    [0.4, 3.054, 1, 14.3],
    [0.05, 2.615, 2, 5.2],
  ])('of an EWMA with lambda %f and width %f, at a shift of %f, is %f', (lambda, width, shift, published) => {
    const scheme = { ewma: { lambda, width, limits: 'steady' as const } };
    expectAbout(averageRunLength(scheme, { shift, seed: 3, runs: shift === 0 ? 8000 : 20_000 }), published, 0.1);
  });

  test('agrees with what the charts themselves see, signal by signal', () => {
    const normal = normalRandom(9);
    const ewma = { lambda: 0.2, width: 2.962 };
    let sum = 0;
    for (let run = 0; run < 300; run++) {
      const values: number[] = [];
      for (;;) {
        values.push(normal() + 1);
        const { average, high, low } = ewmaChart(values, { ...ewma, target: 0, sigma: 1 }).at(-1)!;
        const seen = runSignals(values, { centre: 0, sigma: 1 }, [1, 4]).length > 0;
        if (seen || average > high || average < low) break;
      }
      sum += values.length;
    }
    const simulated = averageRunLength({ rules: [1, 4], ewma }, { shift: 1, seed: 9, runs: 300 });
    expect(simulated.mean).toBe(sum / 300);
  });

  test('refuses a chart that never signals', () => {
    expect(() => averageRunLength({}, { shift: 0, seed: 1 })).toThrow(
      'Cannot run a chart that never signals; expected rules or an EWMA',
    );
  });
});

describe('changePoint', () => {
  test('finds a clear step', () => {
    expect(changePoint([0.1, -0.2, 0.1, 2, 2.2, 1.9], 0)).toBe(3);
    expect(changePoint([5, 5, 5, 3, 3], 5)).toBe(3);
    expect(changePoint([4], 0)).toBe(0);
  });

  // Seeded simulation from known truth: a shift of 2 sigma after 30 values, 5 values later. The estimate is near the truth far more
  // often than not.
  test('is within one value of the truth in most of 200 runs', () => {
    const normal = normalRandom(4);
    const near = Array.from({ length: 200 }, () => {
      const values = Array.from({ length: 35 }, (_, at) => normal() + (at < 30 ? 0 : 2));
      return Math.abs(changePoint(values, 0) - 30) <= 1;
    });
    expect(near.filter(Boolean).length).toBeGreaterThan(120);
  });
});
