import { describe, expect, test } from 'vitest';
import { gaugeAnova, varianceCombination } from '../../src/statistics/gauge-anova.ts';
import { normalRandom } from '../../src/statistics/random.ts';
import { gaugeReadings, referenceManual, thermalImpedance } from './gauge-data.ts';

describe('gaugeAnova', () => {
  // Montgomery, Introduction to Statistical Quality Control, gauge capability by the analysis of variance: the table of the
  // thermal impedance study (from memory; the sums of squares and F of part by operator agree with R 4.2.2, anova(lm())).
  test('gives the published table of the thermal impedance study', () => {
    const { table } = gaugeAnova(gaugeReadings(thermalImpedance))!;
    expect(table.map(({ source, df }) => [source, df])).toEqual([
      ['part', 9],
      ['operator', 2],
      ['interaction', 18],
      ['repeatability', 60],
    ]);
    [3935.96, 39.27, 48.51, 30.67].forEach((sum, at) => expect(table[at]!.sumOfSquares).toBeCloseTo(sum, 2));
    [437.33, 19.63, 2.7, 0.51].forEach((square, at) => expect(table[at]!.meanSquare).toBeCloseTo(square, 2));
    [162.27, 7.28, 5.27].forEach((f, at) => expect(table[at]!.f).toBeCloseTo(f, 2));
    expect(table[2]!.p).toBeCloseTo(5.06e-7, 9);
  });

  // The same source, from memory, from rounded mean squares: part 48.29, inspector 0.56, interaction 0.73, repeatability 0.51,
  // gauge 1.80.
  test('gives the published variance components of the thermal impedance study', () => {
    const { components } = gaugeAnova(gaugeReadings(thermalImpedance))!;
    expect(components.part.variance).toBeCloseTo(48.29, 2);
    expect(Math.abs(components.operator.variance - 0.56)).toBeLessThan(0.006);
    expect(components.interaction.variance).toBeCloseTo(0.73, 2);
    expect(components.repeatability.variance).toBeCloseTo(0.51, 2);
    expect(components.gauge.variance).toBeCloseTo(1.8, 2);
    expect(components.total.variance).toBeCloseTo(components.gauge.variance + components.part.variance, 10);
  });

  // Automotive Industry Action Group (2010), Measurement Systems Analysis, 4th ed.: sums of squares; interaction pooled, as its
  // F of 0.434 is not significant, EV 0.199933, AV 0.226838, GRR 0.302373, PV 1.042327, TV 1.085.
  test('gives the published results of the reference manual, the interaction pooled', () => {
    const kept = gaugeAnova(gaugeReadings(referenceManual))!;
    [88.3619, 3.1673, 0.359, 2.7589].forEach((sum, at) => expect(kept.table[at]!.sumOfSquares).toBeCloseTo(sum, 4));
    expect(kept.table[2]!.f).toBeCloseTo(0.434, 3);
    expect(kept.components.interaction.variance).toBe(0);

    const { pooled, components, table } = gaugeAnova(gaugeReadings(referenceManual), {
      interaction: 'pool where p > 0.25',
    })!;
    expect(pooled).toBe(true);
    expect(table.map(({ df }) => df)).toEqual([9, 2, 78]);
    const deviation = (source: keyof typeof components): number => Math.sqrt(components[source].variance);
    expect(deviation('repeatability')).toBeCloseTo(0.199933, 6);
    expect(deviation('reproducibility')).toBeCloseTo(0.226838, 5);
    expect(deviation('gauge')).toBeCloseTo(0.302373, 5);
    expect(deviation('part')).toBeCloseTo(1.042327, 5);
    expect(deviation('total')).toBeCloseTo(1.085, 3);
  });

  test('keeps an interaction that shows, even where one without is asked for', () => {
    expect(gaugeAnova(gaugeReadings(thermalImpedance), { interaction: 'pool where p > 0.25' })!.pooled).toBe(false);
  });

  test('declines layouts that are not balanced', () => {
    expect(
      gaugeAnova(
        gaugeReadings([
          [[1, 2], [3]],
          [
            [1, 2],
            [2, 4],
          ],
        ]),
      ),
    ).toBeNull();
    expect(
      gaugeAnova(
        gaugeReadings([
          [[1], [3]],
          [[1], [2]],
        ]),
      ),
    ).toBeNull();
    expect(gaugeAnova(gaugeReadings([[[1, 2]], [[2, 4]]]))).toBeNull();
  });

  // Known truth: part 2, operator 0.7, interaction 0.5, repeat 1 (standard deviations), 8 parts, 3 operators, 2 repeats. The
  // number of intervals in 600 that miss is binomial: 95 % +- 4 standard errors is 91.4 to 98.6 %. Operator intervals with 3
  // operators are allowed to cover more, as the limits stop at 0.
  test('has intervals that cover the true variances about as often as they say', () => {
    const normal = normalRandom(11);
    const truth = {
      part: 4,
      operator: 0.49,
      interaction: 0.25,
      repeatability: 1,
      reproducibility: 0.74,
      gauge: 1.74,
      total: 5.74,
    };
    const covered = new Map<string, number>();
    for (let replicate = 0; replicate < 600; replicate++) {
      const operators = [0, 1, 2].map(() => 0.7 * normal());
      const table = Array.from({ length: 8 }, () => {
        const part = 2 * normal();
        return operators.map((operator) => {
          const cell = part + operator + 0.5 * normal();
          return [cell + normal(), cell + normal()];
        });
      });
      const { components } = gaugeAnova(gaugeReadings(table))!;
      for (const [source, variance] of Object.entries(truth)) {
        const { low, high } = components[source as keyof typeof truth];
        if (low <= variance && variance <= high) covered.set(source, (covered.get(source) ?? 0) + 1);
      }
    }
    for (const source of Object.keys(truth)) {
      expect(covered.get(source)! / 600, source).toBeGreaterThan(0.914);
      expect(covered.get(source)! / 600, source).toBeLessThan(
        source === 'part' || source === 'repeatability' ? 0.986 : 1,
      );
    }
  });
});

describe('varianceCombination', () => {
  // (n - 1) s^2 / sigma^2 is chi-squared: with 10 df the 2.5 and 97.5 % points are 3.247 and 20.483 (NIST/SEMATECH e-Handbook,
  // section 1.3.6.7.4, table of critical values).
  test('is the exact chi-squared interval for one mean square', () => {
    const { variance, low, high } = varianceCombination([{ coefficient: 1, meanSquare: 5, df: 10 }], 0.95);
    expect(variance).toBe(5);
    expect(low).toBeCloseTo(50 / 20.483, 4);
    expect(high).toBeCloseTo(50 / 3.247, 2);
  });

  // With infinitely many degrees of freedom behind the subtracted mean square, it is known, and the interval is the
  // chi-squared one moved.
  test('tends to the moved chi-squared interval where the subtracted mean square is known', () => {
    const minus = { coefficient: -1, meanSquare: 1, df: 1e7 };
    const { low, high } = varianceCombination([{ coefficient: 1, meanSquare: 5, df: 10 }, minus], 0.95);
    expect(low).toBeCloseTo(50 / 20.483 - 1, 2);
    expect(high).toBeCloseTo(50 / 3.247 - 1, 1);
  });

  test('refuses two subtracted mean squares', () => {
    const minus = { coefficient: -1, meanSquare: 1, df: 5 };
    expect(() => varianceCombination([minus, minus], 0.95)).toThrow(
      'Cannot give an interval for 2 mean squares that count negatively; expected one at most',
    );
  });
});
