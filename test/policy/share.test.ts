import { expect, test } from 'vitest';
import { kappa, riseShape, saddleLeverage } from '../../src/acoustics/frets.ts';
import { evenShare } from '../../src/acoustics/rise.ts';
import type { Loss } from '../../src/policy/loss.ts';
import { errorFactors, invariant, neckErrors, type StringForecast } from '../../src/policy/neck.ts';
import { alikeCents, chooseShare, negligibleCents, saddleCost } from '../../src/policy/share.ts';
import { normalRandom } from '../../src/statistics/random.ts';

const forecast: StringForecast = { string: 1, nut: 0.5, rise: 4, nutVariance: 0.16, riseVariance: 0.9, covariance: 0 };
const sharp: StringForecast = { ...forecast, nut: 0, nutVariance: 0, riseVariance: 1e-8 };
const evenUse = (frets: readonly number[]): number[] =>
  Array.from({ length: 22 }, (_, at) => (frets.includes(at + 1) ? 1 / frets.length : 0));
const losses: Loss[] = [{ kind: 'squared' }, { kind: 'audible', thresholdCents: 3 }, { kind: 'minimax' }];

test('errorFactors leave -q t / kappa at the 12th and (1 - q) t at the 17th', () => {
  const t = invariant(0.5, 4);
  for (const share of [0, 0.3, evenShare, 1]) {
    const at = (fret: number): number => errorFactors(fret, share).ofNut * 0.5 + errorFactors(fret, share).ofRise * 4;
    expect(at(12)).toBeCloseTo((-share * t) / kappa, 12);
    expect(at(17)).toBeCloseTo((1 - share) * t, 12);
  }
});

// Independent of errorFactors: put the saddle where the 12th reads -q t / kappa, then read any fret by the reading-level model.
test('errorFactors follow the reading-level model at every fret', () => {
  const [nut, rise, share] = [0.7, 3, 0.4];
  const saddle = (-share * invariant(nut, rise)) / kappa - nut;
  for (let fret = 1; fret <= 24; fret++) {
    const { ofNut, ofRise } = errorFactors(fret, share);
    expect(ofNut * nut + ofRise * rise).toBeCloseTo(nut + rise * riseShape(fret) + saddle * saddleLeverage(fret), 12);
  }
});

test('a mean nut offset of +0.5 cents lowers the invariant by 0.33', () => {
  expect(invariant(0.5, 0)).toBeCloseTo(0.5 * (1 - kappa), 12);
});

test.each(losses)('chooseShare finds the best of a fine grid for loss $kind', (loss) => {
  const saddle = { forecasts: [forecast], usage: [evenUse([1, 3, 5, 7, 9, 12, 15, 17, 19])] };
  const { share, cost, fineLow, fineHigh } = chooseShare(saddle, [], loss);
  const grid = Array.from({ length: 2001 }, (_, at) => ({
    share: at / 2000,
    cost: saddleCost(at / 2000, saddle, loss),
  }));
  const least = Math.min(...grid.map((point) => point.cost));
  expect(saddleCost(share, saddle, loss)).toBe(cost);
  if (loss.kind !== 'audible') expect(cost).toBeLessThanOrEqual(least + 1e-7);
  const fine = grid.filter((point) => point.cost < least + negligibleCents);
  expect(fine[0]!.share).toBeCloseTo(fineLow, 2);
  expect(fine.at(-1)!.share).toBeCloseTo(fineHigh, 2);
  if (loss.kind !== 'audible') return;
  // Where no ear can tell shares apart, the one with the least mean square error among them.
  const alike = grid.filter((point) => point.cost < least + alikeCents);
  const square = (at: number): number => saddleCost(at, saddle, { kind: 'squared' });
  expect(square(share)).toBeLessThanOrEqual(Math.min(...alike.map((point) => square(point.share))) + 1e-7);
  expect(cost).toBeLessThanOrEqual(least + alikeCents + 1e-7);
});

test('chooseShare does not follow the mean square error beyond what the ear can tell apart', () => {
  const weights = Array.from({ length: 22 }, (_, at) => (at + 1 === 12 ? 0.9 : at + 1 === 20 ? 0.1 : 0));
  const saddle = { forecasts: [{ ...forecast, rise: 6 }], usage: [weights] };
  const audibleLoss = { kind: 'audible', thresholdCents: 3 } as const;
  const audible = chooseShare(saddle, [], audibleLoss);
  const squared = chooseShare(saddle, [], { kind: 'squared' });
  const grid = Array.from({ length: 2001 }, (_, at) => ({
    at: at / 2000,
    cost: saddleCost(at / 2000, saddle, audibleLoss),
  }));
  const least = Math.min(...grid.map(({ cost }) => cost));
  const lowest = grid.find(({ cost }) => cost < least + alikeCents)!.at;
  expect(squared.share).toBeLessThan(lowest - 0.01);
  expect(audible.share).toBeCloseTo(lowest, 2);
});

// With the 12th and the 17th alone in use and a known rise, the worst error is least where both are equal: q = kappa / (1 + kappa).
test('chooseShare by minimax over the 12th and 17th is the even split', () => {
  const choice = chooseShare({ forecasts: [sharp], usage: [evenUse([12, 17])] }, [], { kind: 'minimax' });
  expect(choice.share).toBeCloseTo(kappa / (1 + kappa), 3);
});

// Squared loss without a nut offset: d/dq sum p (u - q g / kappa)^2 = 0 gives q = kappa sum(p u g) / sum(p g^2), whatever the rise.
test('chooseShare by squared loss has the least-squares share', () => {
  const weights = evenUse([5, 12, 14, 17, 20]);
  let [ug, gg] = [0, 0];
  weights.forEach((weight, at) => {
    ug += weight * riseShape(at + 1) * saddleLeverage(at + 1);
    gg += weight * saddleLeverage(at + 1) ** 2;
  });
  const choice = chooseShare({ forecasts: [sharp], usage: [weights] }, [], { kind: 'squared' });
  expect(choice.share).toBeCloseTo((kappa * ug) / gg, 3);
});

test('chooseShare clips a share beyond an end and says so', () => {
  const high = chooseShare({ forecasts: [sharp], usage: [evenUse([22])] }, [], { kind: 'squared' });
  expect(high).toMatchObject({ share: 1, clipped: 'at the 17th' });
  // A nut cut short makes the 5th fret flat; only a share below 0 (a saddle further forward) would mend that.
  const flat = chooseShare({ forecasts: [{ ...sharp, nut: -2 }], usage: [evenUse([5])] }, [], { kind: 'squared' });
  expect(flat).toMatchObject({ share: 0, clipped: 'at the 12th' });
});

test('chooseShare regrets nothing when the model is known', () => {
  const known = { ...forecast, nutVariance: 0.16, riseVariance: 0.9 };
  const choice = chooseShare({ forecasts: [known], usage: [evenUse([5, 12, 17])] }, [[known], [known]], {
    kind: 'audible',
    thresholdCents: 3,
  });
  expect(choice.regret).toBeLessThan(1e-6);
  expect(choice.high - choice.low).toBeLessThan(1e-3);
});

// Independent of the closed forms: errors of 40,000 simulated instruments.
test('saddleCost agrees with simulated instruments', () => {
  const normal = normalRandom(11);
  const frets = [1, 5, 9, 12, 15, 17, 19];
  const share = 0.4;
  let [excess, count] = [0, 0];
  for (let instrument = 0; instrument < 40_000; instrument++) {
    const nut = 0.5 + 0.4 * normal();
    const rise = 4 + Math.sqrt(0.9) * normal();
    const saddle = (-share * (rise + (1 - kappa) * nut)) / kappa - nut;
    for (const fret of frets) {
      const error = nut + rise * riseShape(fret) + saddle * saddleLeverage(fret);
      excess += Math.max(0, Math.abs(error) - 1) ** 2;
      count++;
    }
  }
  const cost = saddleCost(
    share,
    { forecasts: [forecast], usage: [evenUse(frets)] },
    { kind: 'audible', thresholdCents: 1 },
  );
  expect(Math.abs(cost / Math.sqrt(excess / count) - 1)).toBeLessThan(0.01);
});

test('neckErrors put the mean of the 17th where the share says', () => {
  const errors = neckErrors(forecast, 0.3, 22);
  expect(errors).toHaveLength(22);
  expect(errors[16]!.mean).toBeCloseTo(0.7 * invariant(0.5, 4), 12);
});
