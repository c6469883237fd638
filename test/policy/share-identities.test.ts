import fc from 'fast-check';
import { expect, test } from 'vitest';
import { kappa, riseShape, saddleLeverage } from '../../src/acoustics/frets.ts';
import { evenShare, rise, sharedCents } from '../../src/acoustics/rise.ts';
import { possibleModels } from '../../src/policy/forecast.ts';
import type { Loss } from '../../src/policy/loss.ts';
import { invariant, type StringForecast } from '../../src/policy/neck.ts';
import { alikeCents, chooseShare, saddleCost, type SaddleStrings } from '../../src/policy/share.ts';
import { normalRandom } from '../../src/statistics/random.ts';
import type { ModelTrend, Trend } from '../../src/trend/trend.ts';

/** Error at a fret by the reading-level model of DESIGN section 5, the saddle where the 12th reads -q t / kappa. */
function errorAt(fret: number, share: number, nut: number, ownRise: number): number {
  const t = rise(nut, nut + ownRise);
  const saddle = sharedCents(share, t).cents12 - nut;
  return nut + ownRise * riseShape(fret) + saddle * saddleLeverage(fret);
}

/** `E f(e)` over the forecast by Simpson's rule; the error is linear in nut and rise, so normal. */
function integrated(f: (e: number) => number, fret: number, share: number, forecast: StringForecast): number {
  const [a, b] = [errorAt(fret, share, 1, 0), errorAt(fret, share, 0, 1)];
  const mean = a * forecast.nut + b * forecast.rise;
  const { nutVariance, riseVariance, covariance } = forecast;
  const sd = Math.sqrt(a * a * nutVariance + b * b * riseVariance + 2 * a * b * covariance);
  const steps = 400;
  let sum = 0;
  for (let step = 0; step <= steps; step++) {
    const z = -8 + (16 * step) / steps;
    const weight = step === 0 || step === steps ? 1 : step % 2 === 1 ? 4 : 2;
    sum += weight * f(mean + sd * z) * Math.exp((-z * z) / 2);
  }
  return (sum * 16) / steps / 3 / Math.sqrt(2 * Math.PI);
}

/** The cost of a share on a saddle, from nothing but the reading-level model and numeric integration. */
function bruteCost(share: number, { forecasts, usage }: SaddleStrings, loss: Loss): number {
  const ofStrings = forecasts.map((forecast, at) => {
    const frets = [...(usage[at] as number[]).keys()].filter((fret) => usage[at]![fret]! > 0);
    const losses = frets.map((place) => {
      const own = (e: number): number =>
        loss.kind === 'squared'
          ? e * e
          : loss.kind === 'minimax'
            ? Math.abs(e)
            : Math.max(0, Math.abs(e) - loss.thresholdCents) ** 2;
      return { weight: usage[at]![place]!, loss: integrated(own, place + 1, share, forecast) };
    });
    return loss.kind === 'minimax'
      ? Math.max(...losses.map((one) => one.loss))
      : Math.sqrt(losses.reduce((sum, one) => sum + one.weight * one.loss, 0));
  });
  return loss.kind === 'minimax'
    ? Math.max(...ofStrings)
    : Math.sqrt(ofStrings.reduce((sum, one) => sum + one * one, 0) / ofStrings.length);
}

const use = (counts: Readonly<Record<number, number>>): number[] => {
  const total = Object.values(counts).reduce((sum, one) => sum + one, 0);
  return Array.from({ length: 22 }, (_, at) => (counts[at + 1] ?? 0) / total);
};
const forecast: StringForecast = {
  string: 1,
  nut: 0.4,
  rise: 5,
  nutVariance: 0.2,
  riseVariance: 0.8,
  covariance: -0.05,
};
const pair: SaddleStrings = {
  forecasts: [forecast, { ...forecast, string: 2, nut: -0.3, rise: 2, covariance: 0.1 }],
  usage: [use({ 3: 4, 7: 3, 12: 2, 15: 2, 19: 1 }), use({ 5: 4, 12: 3, 17: 1 })],
};
const losses: Loss[] = [{ kind: 'squared' }, { kind: 'audible', thresholdCents: 1 }, { kind: 'minimax' }];

test.each(losses)('saddleCost of two strings on one saddle agrees with numeric integration, loss $kind', (loss) => {
  for (const share of [0, 0.3, evenShare, 1])
    expect(saddleCost(share, pair, loss)).toBeCloseTo(bruteCost(share, pair, loss), 4);
});

test.each(losses)(
  'chooseShare for two strings on one saddle is the best of a fine grid by brute force, loss $kind',
  (loss) => {
    const grid = Array.from({ length: 201 }, (_, at) => ({ share: at / 200, cost: bruteCost(at / 200, pair, loss) }));
    const least = Math.min(...grid.map(({ cost }) => cost));
    // The audible loss gives way by less than `alikeCents` for the least mean square error; the others do not.
    const fine = loss.kind === 'audible' ? grid.filter(({ cost }) => cost < least + alikeCents) : grid;
    const by: Loss = loss.kind === 'audible' ? { kind: 'squared' } : loss;
    const best = fine.reduce((a, b) => (bruteCost(b.share, pair, by) < bruteCost(a.share, pair, by) ? b : a));
    expect(Math.abs(chooseShare(pair, [], loss).share - best.share)).toBeLessThan(1 / 200);
  },
);

const known: StringForecast = { ...forecast, nut: 0, nutVariance: 0, riseVariance: 1e-9, covariance: 0 };
const squaredShare = (usage: readonly number[]): number =>
  chooseShare({ forecasts: [known], usage: [usage] }, [], { kind: 'squared' }).share;

// DESIGN section 3: cents12 = -q t / kappa, cents17 = (1 - q) t. With the 12th and 17th in use p and 1 - p,
// d/dq [p (q / kappa)^2 + (1 - p)(1 - q)^2] = 0 gives q = (1 - p) kappa^2 / (p + (1 - p) kappa^2).
test('chooseShare by squared loss, 12th and 17th equally in use, is kappa^2 / (1 + kappa^2), beyond the even split', () => {
  expect(squaredShare(use({ 12: 1, 17: 1 }))).toBeCloseTo(kappa ** 2 / (1 + kappa ** 2), 4);
  expect(kappa ** 2 / (1 + kappa ** 2)).toBeGreaterThan(evenShare);
});

test('chooseShare by squared loss is the even split where the 12th is in use kappa times as often as the 17th', () => {
  expect(squaredShare(use({ 12: kappa, 17: 1 }))).toBeCloseTo(kappa / (1 + kappa), 4);
});

test('evenShare leaves equal and opposite errors, 0.62542', () => {
  expect(evenShare).toBeCloseTo(0.62542, 5);
  const { cents12, cents17 } = sharedCents(evenShare, 3);
  expect(cents12).toBeCloseTo(-cents17, 12);
});

// max(0, |e| - 0)^2 = e^2.
test('chooseShare by audible loss with a threshold of 0 is that by squared loss', () => {
  const audible = chooseShare(pair, [], { kind: 'audible', thresholdCents: 0 });
  const squared = chooseShare(pair, [], { kind: 'squared' });
  expect(audible.share).toBeCloseTo(squared.share, 4);
  expect(audible.cost).toBeCloseTo(squared.cost, 8);
});

// What the golden-section search rests on.
test('saddleCost is convex in the share', () => {
  const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });
  fc.assert(
    fc.property(
      fc.record({ nut: number(-3, 3), rise: number(-8, 12), nutVariance: number(0, 2), riseVariance: number(0, 4) }),
      number(-1, 2),
      number(-1, 2),
      fc.constantFrom(...losses),
      (drawn, p, q, loss) => {
        const saddle = { ...pair, forecasts: [{ ...drawn, string: 1, covariance: 0 }, pair.forecasts[1]!] };
        const [a, b, middle] = [p, q, (p + q) / 2].map((share) => saddleCost(share, saddle, loss)) as [
          number,
          number,
          number,
        ];
        expect(middle).toBeLessThanOrEqual((a + b) / 2 + 1e-9);
      },
    ),
    { numRuns: 300 },
  );
});

/** A model whose nut and rises are known with the given covariance, and a trend that spreads its instruments. */
const covariance = [
  [0.09, 0.02, 0.01],
  [0.02, 0.36, 0.15],
  [0.01, 0.15, 0.25],
];
const model = {
  nut: { estimate: 0.4 },
  cells: [
    { string: 1, rise: { estimate: 4 } },
    { string: 2, rise: { estimate: 1 } },
  ],
  covariance,
} as unknown as ModelTrend;
const trend = { spread: { instrumentRise: 0.6, stringRise: 0.7, stringNut: 0.4, reading: 0.5 } } as Trend;

test('possibleModels have the mean and the covariance of the estimates', () => {
  const draws = 40_000;
  const cases = possibleModels(model, trend, draws, normalRandom(3));
  const drawn = cases.map(([first, second]) => [first!.nut, first!.rise, second!.rise]);
  const means = [0, 1, 2].map((at) => drawn.reduce((sum, one) => sum + one[at]!, 0) / draws);
  [0.4, 4, 1].forEach((mean, at) => expect(Math.abs(means[at]! - mean)).toBeLessThan(5 * Math.sqrt(0.36 / draws)));
  for (let i = 0; i < 3; i++)
    for (let j = 0; j < 3; j++) {
      const found = drawn.reduce((sum, one) => sum + (one[i]! - means[i]!) * (one[j]! - means[j]!), 0) / draws;
      // Standard error of a covariance of normals: sqrt((s_ii s_jj + s_ij^2) / n).
      const error = Math.sqrt((covariance[i]![i]! * covariance[j]![j]! + covariance[i]![j]! ** 2) / draws);
      expect(Math.abs(found - covariance[i]![j]!)).toBeLessThan(5 * error);
    }
});

/**
 * Regret by Monte Carlo: what a barely known model may truly be is drawn by a factor of its covariance worked out by hand here, its
 * next instruments are drawn too, and every share of a grid is tried on them.
 */
test.each(losses)('chooseShare has the regret that Monte Carlo finds, loss $kind', (loss) => {
  const usage = [use({ 3: 4, 7: 3, 12: 2, 15: 2, 19: 1 })];
  const cases = 300;
  const unknown = {
    ...model,
    nut: { estimate: 0 },
    covariance: [
      [9, 0.9],
      [0.9, 9],
    ],
  };
  const barely = { ...unknown, cells: [{ string: 1, rise: { estimate: 1.5 } }] } as unknown as ModelTrend;
  const alike = { spread: { instrumentRise: 0.3, stringRise: 0.4, stringNut: 0.2, reading: 0.5 } } as Trend;
  const [nutSd, riseSd] = [0.2, 0.5];
  const next: StringForecast = {
    string: 1,
    nut: 0,
    rise: 1.5,
    nutVariance: 9 + nutSd ** 2,
    riseVariance: 9 + riseSd ** 2,
    covariance: 0.9,
  };
  const possible = possibleModels(barely, alike, cases, normalRandom(5));
  const choice = chooseShare({ forecasts: [next], usage }, possible, loss);

  const normal = normalRandom(77);
  const frets = [3, 7, 12, 15, 19];
  // The same instruments in every case, with their mirror images, so that shares are compared on equal terms.
  const half = Array.from({ length: 60 }, () => [nutSd * normal(), riseSd * normal()] as const);
  const instruments = [...half, ...half.map(([nut, own]) => [-nut, -own] as const)];
  const shares = Array.from({ length: 51 }, (_, at) => at / 50);
  // e = N a + R b at every fret and share, the chosen share last.
  const factors = [...shares, choice.share].map((share) =>
    frets.map((fret) => [errorAt(fret, share, 1, 0), errorAt(fret, share, 0, 1)] as const),
  );
  const cost = (kind: Loss, at: number, nut: number, ownRise: number): number => {
    const ofFrets = frets.map((fret, place) => {
      const [a, b] = factors[at]![place]!;
      let sum = 0;
      for (const [ownNut, own] of instruments) {
        const e = Math.abs((nut + ownNut) * a + (ownRise + own) * b);
        sum +=
          kind.kind === 'squared' ? e * e : kind.kind === 'minimax' ? e : Math.max(0, e - kind.thresholdCents) ** 2;
      }
      return (sum / instruments.length) * (kind.kind === 'minimax' ? 1 : usage[0]![fret - 1]!);
    });
    return kind.kind === 'minimax' ? Math.max(...ofFrets) : Math.sqrt(ofFrets.reduce((sum, one) => sum + one, 0));
  };
  const regrets = Array.from({ length: cases }, () => {
    const [z, y] = [normal(), normal()];
    // var N = 9, cov(N, R) = 0.9, var R = 9: N = 3 z, R = 1.5 + 0.3 z + sqrt(9 - 0.09) y.
    const [nut, ownRise] = [3 * z, 1.5 + 0.3 * z + Math.sqrt(8.91) * y];
    const costs = shares.map((_, at) => cost(loss, at, nut, ownRise));
    const least = Math.min(...costs);
    let best = costs.indexOf(least);
    if (loss.kind === 'audible') {
      const fine = shares.map((_, at) => at).filter((at) => costs[at]! < least + alikeCents);
      const square = (at: number): number => cost({ kind: 'squared' }, at, nut, ownRise);
      best = fine.reduce((a, b) => (square(b) < square(a) ? b : a));
    }
    return cost(loss, shares.length, nut, ownRise) - costs[best]!;
  });
  const mean = regrets.reduce((sum, one) => sum + one, 0) / cases;
  const sd = Math.sqrt(regrets.reduce((sum, one) => sum + (one - mean) ** 2, 0) / cases);
  // Two sets of cases: the standard error of their difference, four times; and 0.005 for the grid and the instruments drawn.
  const error = 4 * sd * Math.sqrt(2 / cases) + 0.005;
  expect(Math.abs(choice.regret - mean)).toBeLessThan(error);
  // The comparison tells a regret from none.
  expect(mean).toBeGreaterThan(error);
});

test('invariant is the rise that the 12th and 17th show of a nut offset and a rise', () => {
  expect(invariant(0.7, 3)).toBeCloseTo(rise(0.7, 0.7 + 3), 12);
});
