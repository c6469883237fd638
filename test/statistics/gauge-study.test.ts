import { describe, expect, test } from 'vitest';
import { gaugeStudy, readingStep } from '../../src/statistics/gauge-study.ts';
import { normalRandom } from '../../src/statistics/random.ts';
import { gaugeReadings, referenceManual, thermalImpedance } from './gauge-data.ts';

describe('gaugeStudy', () => {
  // R 4.2.2, lme4 1.1-31, lmer(y ~ 1 + (1|part) + (1|operator) + (1|part:operator)): VarCorr, and confint by profile likelihood,
  // whose spline and optimiser leave 3 to 4 digits.
  test('agrees with lme4 on the thermal impedance study, intervals too', () => {
    const { components, anova, distinctCategories, notes } = gaugeStudy(gaugeReadings(thermalImpedance));
    const expected = {
      part: [48.28847, 4.4860234, 11.0523629],
      operator: [0.56506, 0.2110262, 2.9749455],
      interaction: [0.72797, 0.5660235, 1.3045349],
      repeatability: [0.51111, 0.6038444, 0.8647398],
    } as const;
    for (const [source, [variance, low, high]] of Object.entries(expected)) {
      const found = components[source as keyof typeof expected]!;
      expect(Math.abs(found.variance / variance - 1), source).toBeLessThan(2e-3);
      expect(Math.abs(Math.sqrt(found.low) / low - 1), source).toBeLessThan(2e-3);
      expect(Math.abs(Math.sqrt(found.high) / high - 1), source).toBeLessThan(2e-3);
    }
    // Balanced, and no estimate on the boundary: REML and the analysis of variance agree (Searle, Casella & McCulloch 1992,
    // Variance Components, section 4.8; from memory).
    for (const source of ['part', 'operator', 'interaction', 'repeatability', 'gauge', 'total'] as const)
      expect(components[source]!.variance / anova!.components[source].variance).toBeCloseTo(1, 6);
    // sqrt(2 * 48.29 / 1.80) = 7.32.
    expect(distinctCategories).toBeCloseTo(7.32, 1);
    expect(notes).toEqual(['3 operators tell little of how operators differ in general: see the interval.']);
  });

  // Automotive Industry Action Group (2010), as in gauge-anova.test.ts. REML puts the interaction at 0 by itself, and so comes to
  // the pooled results; number of distinct categories 1.41 PV / GRR = 4.861.
  test('comes to the pooled results of the reference manual without being told to pool', () => {
    const { components, distinctCategories, resolution } = gaugeStudy(gaugeReadings(referenceManual));
    expect(components.interaction!.variance).toBe(0);
    expect(Math.sqrt(components.repeatability!.variance)).toBeCloseTo(0.199933, 5);
    expect(Math.sqrt(components.reproducibility!.variance)).toBeCloseTo(0.226838, 5);
    expect(Math.sqrt(components.part!.variance)).toBeCloseTo(1.042327, 5);
    expect((1.41 / Math.SQRT2) * distinctCategories!).toBeCloseTo(4.861, 2);
    expect(resolution).toEqual({ step: 0.01, isCoarse: false });
  });

  // Known truth, standard deviations: part 2, operator 0.7, interaction 0.5, repeat 1; readings missing at random, so that no
  // analysis of variance is to be had. Of 40 intervals of 95 %, 33 or fewer cover once in 300 tries (binomial).
  test('has intervals that cover in unbalanced layouts', { timeout: 60_000 }, () => {
    const normal = normalRandom(5);
    const truth = { part: 4, operator: 0.49, repeatability: 1, reproducibility: 0.74, gauge: 1.74, total: 5.74 };
    const covered = new Map<string, number>();
    for (let replicate = 0; replicate < 40; replicate++) {
      const operators = [0, 1, 2, 3].map(() => 0.7 * normal());
      const table = Array.from({ length: 8 }, () => {
        const part = 2 * normal();
        return operators.map((operator) => {
          const cell = part + operator + 0.5 * normal();
          return Array.from({ length: normal() > 0.5 ? 1 : 2 }, () => cell + normal());
        });
      });
      const study = gaugeStudy(gaugeReadings(table));
      expect(study.anova).toBeNull();
      for (const [source, variance] of Object.entries(truth)) {
        const { low, high } = study.components[source as keyof typeof truth]!;
        if (low <= variance && variance <= high) covered.set(source, (covered.get(source) ?? 0) + 1);
      }
    }
    for (const source of Object.keys(truth)) expect(covered.get(source)!, source).toBeGreaterThan(33);
  });

  test('says what one operator, or operators that read different parts, leave unknown', () => {
    const alone = gaugeStudy(gaugeReadings([[[1, 1.2]], [[2, 2.1]], [[3, 3.3]]]));
    expect(alone.components.reproducibility).toBeNull();
    expect(alone.components.gauge).toBeNull();
    expect(alone.distinctCategories).toBeNull();
    expect(alone.notes).toContain('One operator read everything: how operators differ is not known.');

    const nested = gaugeStudy({
      values: [1, 1.2, 2, 2.1, 3, 3.3, 4, 4.4, 1.5, 1.3, 2.9, 2.6],
      parts: ['a', 'a', 'b', 'b', 'c', 'c', 'd', 'd', 'e', 'e', 'f', 'f'],
      operators: ['x', 'x', 'x', 'x', 'y', 'y', 'y', 'y', 'z', 'z', 'z', 'z'],
    });
    expect(nested.components.interaction).toBeNull();
    expect(nested.components.gauge).not.toBeNull();
    expect(nested.notes[0]).toContain('No part was read by two operators');
  });

  test('says that steps are too coarse to see the scatter', () => {
    const { resolution, notes } = gaugeStudy(
      gaugeReadings([
        [
          [1, 1],
          [1, 1],
        ],
        [
          [4, 4],
          [4, 5],
        ],
        [
          [2, 2],
          [2, 2],
        ],
        [
          [7, 7],
          [7, 7],
        ],
      ]),
    );
    expect(resolution).toEqual({ step: 1, isCoarse: true });
    expect(notes.join(' ')).toContain('Readings were written in steps of 1, more than twice their scatter');
  });

  // Sheppard's correction: rounding in steps of h adds h^2 / 12 to a variance while h is at most about twice the standard
  // deviation, with a relative error below 1 % of it (Kendall's Advanced Theory of Statistics, chapter 3; from memory).
  test('calls steps coarse just where the variance they add is no longer step^2 / 12', () => {
    const normal = normalRandom(3);
    const inflated = (step: number): number => {
      let sum = 0;
      for (let pair = 0; pair < 200_000; pair++) {
        const part = 10 * normal();
        sum += (Math.round((part + normal()) / step) * step - Math.round((part + normal()) / step) * step) ** 2 / 2;
      }
      return sum / 200_000;
    };
    for (const step of [1, 2]) expect(inflated(step) / (1 + step ** 2 / 12)).toBeCloseTo(1, 1);
  });

  test('refuses readings without repeats', () => {
    expect(() =>
      gaugeStudy(
        gaugeReadings([
          [[1], [2]],
          [[3], [4]],
        ]),
      ),
    ).toThrow(
      'Cannot tell the scatter of readings from 4 readings of 2 parts with 0 repeats; expected two parts or more, read twice or more by one operator',
    );
  });
});

describe('readingStep', () => {
  test('finds the step of readings, and none in numbers that have none', () => {
    expect(readingStep([1, -3, 7])).toBe(1);
    expect(readingStep([0.5, -1.5, 2])).toBe(0.5);
    expect(readingStep([0.3, 0.7, -1.1])).toBe(0.1);
    expect(readingStep([10, 30, -20])).toBe(10);
    expect(readingStep([Math.PI, Math.E])).toBe(0);
    expect(readingStep([0, 0])).toBe(0);
  });
});
