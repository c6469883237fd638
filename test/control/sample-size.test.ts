import { describe, expect, test } from 'vitest';
import { kappa } from '../../src/acoustics/frets.ts';
import { moreInstruments, riseVariance, sampleSizes } from '../../src/control/sample-size.ts';
import { fitTrend } from '../../src/trend/fit-trend.ts';
import { simulateShop, usualShop } from '../../src/trend/simulate-shop.ts';
import { inventedEntry, inventedStandard } from './invented-bench.ts';

const entry = inventedEntry({ model: 'Fern', string: 1, riseLow: 2, riseHigh: 4, regret: 0.2 });

describe('moreInstruments', () => {
  // A mean of n values of variance v has a 95 % interval of half-width 1.96 sqrt(v / n): from what n instruments gave, the number
  // that halves it is 4 n, so 3 n more.
  test('is three times as many again to halve an interval that rests on the instruments alone', () => {
    const n = 20;
    const half = 1.959964 * Math.sqrt(riseVariance(entry, 1) / n);
    const now = { ...entry, riseLow: 3 - half, riseHigh: 3 + half };
    expect(moreInstruments(now, { halfWidth: half / 2 }, 1)).toBe(3 * n);
    expect(moreInstruments({ ...now, regret: 0.2 }, { regret: 0.05 }, 1)).toBe(3 * n);
  });

  test('is none where what is wanted is there', () => {
    expect(moreInstruments(entry, { halfWidth: 1 }, 1)).toBe(0);
    expect(moreInstruments(entry, { regret: 0.2 }, 1)).toBe(0);
    expect(moreInstruments({ ...entry, regret: 0 }, { regret: 0.1 }, 1)).toBe(0);
  });

  // v = 0.9^2 + 0.5^2 (1 + kappa^2) / repeats.
  test('cannot buy instruments with repeats: the spread between instruments stays', () => {
    expect(riseVariance(entry, 1)).toBeCloseTo(0.81 + 0.25 * (1 + kappa ** 2), 10);
    expect(riseVariance(entry, 1e9)).toBeCloseTo(0.81, 6);
    expect(moreInstruments(entry, { halfWidth: 0.3 }, 4)).toBeLessThan(moreInstruments(entry, { halfWidth: 0.3 }, 1));
    expect(moreInstruments(entry, { halfWidth: 0.3 }, 1e9)).toBeGreaterThan(0);
  });

  // Seeded simulation from known truth, with readings at the 12th and the 17th alone: shops with 8 instruments a model are fitted;
  // then as many more as the closed form asks for to bring the interval down to 0.75 of itself. The intervals of the larger shops,
  // fitted anew, should be that wide; within a tenth, as their variance components are estimated anew from four models.
  test.each([1, 2])(
    'brings the interval of a new fit to the width asked for, with %i passes an instrument',
    { timeout: 60_000 },
    (passes) => {
      const plan = {
        ...usualShop,
        models: 4,
        instrumentsPerModel: 8,
        strings: 3,
        passes,
        manyFretsEvery: 0,
        technicians: 1,
        hand: 0,
      };
      const widths = (instrumentsPerModel: number): number[] =>
        [1, 2, 3, 4, 5, 6].map((seed) => {
          const { models } = fitTrend(simulateShop(31 + seed, { ...plan, instrumentsPerModel }).sums);
          const cells = models.flatMap(({ cells: own }) => own);
          return cells.reduce((sum, { rise }) => sum + (rise.high - rise.low) / 2, 0) / cells.length;
        });
      const mean = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length;
      const half = mean(widths(8));
      const known = {
        ...entry,
        riseLow: -half,
        riseHigh: half,
        riseSdBetween: Math.hypot(plan.instrumentRise, plan.stringRise, (1 - kappa) * plan.stringNut),
        readingSd: plan.reading,
      };
      const more = moreInstruments(known, { halfWidth: 0.75 * half }, passes);
      expect(more).toBeGreaterThan(3);
      expect(Math.abs(mean(widths(8 + more)) / (0.75 * half) - 1)).toBeLessThan(0.1);
    },
  );
});

describe('sampleSizes', () => {
  test('answers for the neediest string of each model', () => {
    const standard = inventedStandard([
      inventedEntry({ model: 'Fern', string: 1, riseLow: 2.6, riseHigh: 3.4 }),
      inventedEntry({ model: 'Fern', string: 2, riseLow: 2, riseHigh: 4, instruments: 7 }),
      inventedEntry({ model: 'Moss', string: 1, riseLow: 2.9, riseHigh: 3.1 }),
    ]);
    const [fern, moss] = sampleSizes(standard, { halfWidth: 0.5 }, [1, 2]);
    expect(fern).toMatchObject({ model: 'Fern', string: 2, instruments: 7, halfWidth: 1 });
    // v (1 / (0.5 / 1.96)^2 - 1 / (1 / 1.96)^2) with v = 1.757: 20.2, so 21.
    expect(fern!.more[0]).toEqual({ repeats: 1, instruments: 21 });
    expect(moss!.more.every(({ instruments }) => instruments === 0)).toBe(true);
  });

  test('refuses to reach nothing', () => {
    expect(() => sampleSizes(inventedStandard([entry]), { regret: 0 })).toThrow(
      'Cannot reach 0 cents with any number of instruments; expected more than 0',
    );
  });
});
