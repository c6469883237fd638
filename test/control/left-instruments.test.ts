import { describe, expect, test } from 'vitest';
import { kappa } from '../../src/acoustics/frets.ts';
import { departureNoise, leftInstruments } from '../../src/control/left-instruments.ts';
import { normalRandom } from '../../src/statistics/random.ts';
import { inventedEntry, inventedStandard, leftReadings, type LeftPlan } from './invented-bench.ts';

const standard = inventedStandard([
  inventedEntry({ model: 'Fern', string: 1, share: 0 }),
  inventedEntry({ model: 'Fern', string: 2, share: 0.3 }),
  inventedEntry({ model: 'Fern', string: 3, share: 1 }),
  inventedEntry({ model: 'Moss', string: 1, share: 0.5, saddle: [1, 2] }),
  inventedEntry({ model: 'Moss', string: 2, share: 0.5, saddle: [1, 2] }),
  inventedEntry({ model: 'Moss', string: 3, share: 0.2 }),
]);
const string = (plan: Partial<LeftPlan>): LeftPlan => ({
  instrument: 'A',
  model: 'Fern',
  string: 1,
  rise: 3,
  error: 0,
  ...plan,
});

describe('leftInstruments', () => {
  test('gives 0 for a bench that shares every rise as the standard says, whatever the rise', () => {
    const plans = [1, 2, 3].map((at) => string({ string: at, rise: 4 * at - 6 }));
    const { instruments } = leftInstruments(leftReadings(standard, plans), standard);
    expect(instruments).toHaveLength(1);
    for (const { departure } of instruments[0]!.strings) expect(departure).toBeCloseTo(0, 10);
  });

  test('gives the saddle error in cents at the 12th, whatever the share', () => {
    const plans = [1, 2, 3].map((at) => string({ string: at, error: at / 2 }));
    const { instruments } = leftInstruments(leftReadings(standard, plans), standard);
    instruments[0]!.strings.forEach(({ departure }, at) => expect(departure).toBeCloseTo((at + 1) / 2, 10));
    expect(instruments[0]!.departure).toBeCloseTo(1, 10);
    // The mean of three independent readings' noise.
    const noise = [0, 0.3, 1].map((share) => departureNoise(share, 0.5) ** 2);
    expect(instruments[0]!.noise ** 2).toBeCloseTo((noise[0]! + noise[1]! + noise[2]!) / 9, 10);
  });

  test('counts strings on one saddle once', () => {
    const plans = [1, 2, 3].map((at) => string({ model: 'Moss', string: at, error: [1, 3, 6][at - 1]! }));
    const { instruments } = leftInstruments(leftReadings(standard, plans), standard);
    expect(instruments[0]!.departure).toBeCloseTo((2 + 6) / 2, 10);
  });

  test('takes the last pass, leaves alone strings that were never moved, and orders by time', () => {
    const plans = [
      string({ instrument: 'late', at: '2026-03-02T10:00', before: 2 }),
      string({ instrument: 'late', string: 2, at: '2026-03-02T10:00', before: 0, error: 0.5 }),
      string({ instrument: 'early', at: '2026-02-01', technician: 'ben' }),
      string({ instrument: 'undated', at: null }),
      string({ instrument: 'received', before: 0 }),
      string({ instrument: 'unknown', model: 'Reed' }),
    ];
    const left = leftInstruments(leftReadings(standard, plans), standard);
    expect(left.instruments.map(({ instrument }) => instrument)).toEqual(['early', 'late', 'undated']);
    expect(left.instruments[0]).toMatchObject({ technician: 'ben', at: Date.UTC(2026, 1, 1) });
    expect(left.instruments[1]!.strings[1]!.departure).toBeCloseTo(0.5, 10);
    expect(left.instruments[2]!.at).toBeNull();
    expect(left.onlyReceived).toEqual(['received']);
    expect(left.unusable).toEqual(['unknown']);
  });
});

// Propagation of variance through (1 - q) c12 + (q / kappa) c17, by seeded simulation.
test.each([0, 0.4, 1])('departureNoise is the scatter that readings give a departure at a share of %f', (share) => {
  const normal = normalRandom(8);
  let squares = 0;
  for (let draw = 0; draw < 100_000; draw++)
    squares += ((1 - share) * 0.5 * normal() + (share / kappa) * 0.5 * normal()) ** 2;
  expect(Math.sqrt(squares / 100_000) / departureNoise(share, 0.5)).toBeCloseTo(1, 2);
});
