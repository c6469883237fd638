import { expect, test } from 'vitest';
import { kappa } from '../../src/acoustics/frets.ts';
import { benchSight } from '../../src/control/bench-sight.ts';
import { normalRandom } from '../../src/statistics/random.ts';

const reading = { readingSd: 0.5, stepCents: 0, handSd: 0, repeats: 1 };

// At share 0 the 12th alone counts: 1.96 and 2.80 standard deviations (z of 0.975 and of 0.8: 1.960 and 0.842, any normal table).
test('benchSight is 1.96 and 2.80 standard deviations of a reading where the 12th alone counts', () => {
  const { windowCents, seenCents } = benchSight(0, reading, 648);
  expect(windowCents).toBeCloseTo(0.98, 3);
  expect(seenCents).toBeCloseTo(1.401, 3);
});

// DESIGN section 3: 1 mm back gives -2.665 cents at the 12th on 648 mm; linear form -2.672. An error forward is a little steeper.
test('benchSight turns cents into millimetres by the geometry of the saddle', () => {
  const { seenCents, seenMm } = benchSight(0, reading, 648);
  expect(seenCents / seenMm).toBeGreaterThan(2.672);
  expect(seenCents / seenMm).toBeLessThan(2.68);
});

test('benchSight sees less with coarse steps and other hands, and more when reading again', () => {
  const sight = (change: Partial<typeof reading>): number =>
    benchSight(0.6, { ...reading, ...change }, 648).windowCents;
  expect(sight({ stepCents: 1 })).toBeGreaterThan(sight({}));
  expect(sight({ handSd: 0.5 })).toBeGreaterThan(sight({}));
  expect(sight({ repeats: 4 })).toBeCloseTo(sight({}) / 2, 10);
  // Hands do not average out by reading again.
  expect(sight({ repeats: 1e6, handSd: 0.5 })).toBeCloseTo(1.96 * 0.5, 2);
});

// Seeded simulation: readings of saddles that stand right, and of ones that are off by what should be seen.
test('benchSight holds: 5 % of right saddles read outside the window, 80 % of those off by the size seen', () => {
  const normal = normalRandom(6);
  const share = 0.7;
  const { windowCents, seenCents } = benchSight(share, reading, 648);
  const outside = (error: number): number => {
    let count = 0;
    for (let draw = 0; draw < 50_000; draw++) {
      const [cents12, cents17] = [error + 0.5 * normal(), kappa * error + 0.5 * normal()];
      if (Math.abs((1 - share) * cents12 + (share / kappa) * cents17) > windowCents) count++;
    }
    return count / 50_000;
  };
  expect(outside(0)).toBeCloseTo(0.05, 2);
  expect(outside(seenCents)).toBeCloseTo(0.8, 2);
});
