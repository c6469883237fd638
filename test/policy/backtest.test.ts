import { expect, test } from 'vitest';
import { kappa } from '../../src/acoustics/frets.ts';
import type { ModelSpec } from '../../src/logs/models.ts';
import {
  backtest,
  policies,
  type Realised,
  setSaddle,
  type ReadString,
  type TestedInstrument,
} from '../../src/policy/backtest.ts';
import { backtestSentences, comparePolicies } from '../../src/policy/backtest-comparison.ts';
import { forecastModel } from '../../src/policy/forecast.ts';
import { rulesOfThumb } from '../../src/policy/rules-of-thumb.ts';
import { chooseShare } from '../../src/policy/share.ts';
import { neckOf, saddleStrings } from '../../src/policy/standard.ts';
import type { Usage } from '../../src/policy/usage.ts';
import { meanAt } from '../../src/sources/block-sums.ts';
import { fitTrend } from '../../src/trend/fit-trend.ts';
import { leaveOut } from '../../src/trend/leave-out.ts';
import { type ShopPlan, simulateShop, usualShop } from '../../src/trend/simulate-shop.ts';

const plan: ShopPlan = { ...usualShop, models: 3, instrumentsPerModel: 8, strings: 4, passes: 1 };
const trend = fitTrend(simulateShop(2, plan).sums);
const usage: Usage = new Map(
  [1, 2, 3, 4].map((string) => [string, new Map(Array.from({ length: 21 }, (_, at) => [at + 1, 22 - at]))]),
);
const loss = { kind: 'audible', thresholdCents: 3 } as const;
const specs: ModelSpec[] = [];
const found = backtest(trend, { specs, usage, loss });

const string = (number: number, twelfth: number, seventeenth: number): ReadString => ({
  string: number,
  frets: [5, 12, 17],
  cents: [0.3, twelfth, seventeenth],
});

// DESIGN section 3: cents12 = -q t / kappa, cents17 = (1 - q) t. The 5th moves g(5) = 2^(5/12) - 1 as far as the 12th.
test('setSaddle leaves what the share says, and moves every fret by its leverage', () => {
  const [left] = setSaddle([string(1, 2, 7)], () => 0.4);
  const t = 7 - kappa * 2;
  expect(left!.cents[1]).toBeCloseTo((-0.4 * t) / kappa, 12);
  expect(left!.cents[2]).toBeCloseTo(0.6 * t, 12);
  expect(left!.cents[0]).toBeCloseTo(0.3 + (left!.cents[1]! - 2) * (2 ** (5 / 12) - 1), 12);
});

test('setSaddle gives strings on one saddle one move, the mean of those that they ask for', () => {
  const left = setSaddle([string(1, 2, 7), string(2, -1, 3)], () => 0);
  // To make the 12th exact one asks for -2, the other for +1.
  expect(left[0]!.cents[1]).toBeCloseTo(2 - 0.5, 12);
  expect(left[1]!.cents[1]).toBeCloseTo(-1 - 0.5, 12);
});

test('backtest tries every instrument, with shares chosen without it', () => {
  expect(found.instruments).toHaveLength(24);
  expect(found.candidates).toBe(24);
  // Anew by hand for one instrument: shares from the others, errors of each string at the frets read.
  const { sums } = trend;
  const at = 7;
  const model = trend.models.find((one) => one.model === sums.models[sums.modelOfInstrument[at]!])!;
  const forecasts = forecastModel(leaveOut(trend).without(at)!, trend);
  let [audible, strings] = [0, 0];
  sums.blockString.forEach((number, block) => {
    if (sums.blockInstrument[block] !== at) return;
    const { frets } = neckOf(model, specs);
    const { share } = chooseShare(saddleStrings([number], forecasts, usage, frets), [], loss);
    const reading = (fret: number): number => meanAt(sums, block, fret)!;
    const t = reading(17) - kappa * reading(12);
    const [twelfth, seventeenth] = [(-share * t) / kappa, (1 - share) * t];
    // Played 22 - 11 times at the 12th and 22 - 16 times at the 17th.
    audible += (11 * Math.max(0, Math.abs(twelfth) - 3) + 6 * Math.max(0, Math.abs(seventeenth) - 3)) / 17;
    strings++;
  });
  const tried = found.instruments.find(({ instrument }) => instrument === sums.instruments[at])!;
  expect(tried.frets).toBe(2);
  expect(tried.realised['this standard'].audible).toBeCloseTo(audible / strings, 10);
});

test('backtest leaves nothing at the 12th by "12th exact" and nothing at the 17th by "17th exact"', () => {
  const wide = backtest(trend, { specs, usage, loss: { kind: 'squared' }, audibleCents: 0 });
  const { sums } = trend;
  for (const { instrument, realised } of wide.instruments) {
    const blocks = [...sums.blockString.keys()].filter(
      (block) => sums.instruments[sums.blockInstrument[block]!] === instrument,
    );
    const t = blocks.map((block) => {
      const reading = (fret: number): number => meanAt(sums, block, fret)!;
      return Math.abs(reading(17) - kappa * reading(12));
    });
    const mean = t.reduce((sum, one) => sum + one, 0) / t.length;
    // With a threshold of 0: half of |t| at the 17th alone, half of |t| / kappa at the 12th alone.
    expect(realised['12th exact'].audible12And17).toBeCloseTo(mean / 2, 10);
    expect(realised['17th exact'].audible12And17).toBeCloseTo(mean / kappa / 2, 10);
    expect(realised['even split'].audible12And17).toBeCloseTo(mean / (1 + kappa), 10);
  }
});

test('backtest of very many instruments tries a seeded sample and says how many there were', () => {
  const some = (seed: number): string[] =>
    backtest(trend, { specs, usage, loss, most: 10, seed }).instruments.map(({ instrument }) => instrument);
  const sample = backtest(trend, { specs, usage, loss, most: 10, seed: 3 });
  expect(sample.candidates).toBe(24);
  expect(new Set(some(3)).size).toBe(10);
  expect(some(3)).toEqual(some(3));
  expect(some(3)).not.toEqual(some(4));
  expect(backtestSentences(sample)[0]).toContain('10 instruments, a sample of 24,');
});

test('backtest refuses a log without a string read at both frets', () => {
  const { sums } = simulateShop(2, plan);
  const without17 = { ...sums, cellFret: sums.cellFret.map((fret) => (fret === 17 ? 16 : fret)) };
  expect(() => backtest(fitTrend(without17), { specs, usage, loss })).toThrow(
    'Cannot try a standard on no instrument; expected at least one with a string read at the 12th and the 17th on one pass',
  );
});

/** Instruments on which the standard leaves so much, and every rule so much. */
function tested(pairs: readonly (readonly [number, number])[]): TestedInstrument[] {
  const both = (value: number): Realised => ({ audible: value, audible12And17: value, error: value, cost: value });
  return pairs.map(([standard, rule], at) => ({
    instrument: `i${at}`,
    model: 'Fern',
    strings: 6,
    frets: 2,
    realised: Object.fromEntries(
      policies.map((policy) => [policy, both(policy === 'this standard' ? standard : rule)]),
    ) as TestedInstrument['realised'],
  }));
}

// Student's sleep data (Biometrika 6, 1908), R's t.test(extra ~ group, paired = TRUE): mean difference -1.58, 95 % interval
// -2.459885763 to -0.700114237 (R 4.2, run for this test).
test('comparePolicies has the interval of the paired t', () => {
  const first = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0, 2];
  const second = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];
  const [one] = comparePolicies(tested(first.map((value, at) => [value, second[at]!] as const)))['frets read'];
  expect(one!.difference).toBeCloseTo(-1.58, 12);
  expect(one!.low).toBeCloseTo(-2.459885763, 8);
  expect(one!.high).toBeCloseTo(-0.700114237, 8);
  expect(one).toMatchObject({ instruments: 10, won: 9, lost: 0, tied: 1 });
});

const told = (pairs: readonly (readonly [number, number])[]): string => {
  const instruments = tested(pairs);
  const comparisons = comparePolicies(instruments);
  return backtestSentences({ instruments, comparisons, candidates: instruments.length, audibleCents: 3 })[1]!;
};

test('backtestSentences say that the standard wins, that nothing can be shown, or that a rule does better', () => {
  expect(told([1, 2, 3].map((at) => [0.1 * at, 1 + 0.1 * at + 0.01 * at]))).toMatch(
    /^Against "12th exact" the standard wins by 1\.02 cents \(95 % 1\.0\d to 1\.0\d\): the standard is better on 3, worse on 0, the same on 0\.$/,
  );
  expect(told([1, 2, 3].map((at) => [1 + 0.1 * at + 0.01 * at, 0.1 * at]))).toMatch(
    /^"12th exact" does better than the standard, by 1\.02 cents \(95 % 1\.0\d to 1\.0\d\): the standard is better on 0, worse on 3, the same on 0\.$/,
  );
  expect(
    told([
      [1, 0.5],
      [0.5, 1],
      [1, 1],
    ]),
  ).toMatch(
    /^Against "12th exact" there is no difference that these 3 instruments can show \(95 % from 1\.24 less to 1\.24 more\)/,
  );
  expect(told([[1, 0.5]])).toBe('Against "12th exact" one instrument shows nothing.');
});

// Where necks are true every policy leaves the same, and a backtest must not claim a winner.
test('backtest shows no difference on instruments without a rise', () => {
  const flat = { ...plan, rise: { mean: 0, model: 0, string: 0, modelString: 0 }, nut: { mean: 0, model: 0 } };
  const quiet = fitTrend(
    simulateShop(6, { ...flat, instrumentRise: 0.1, stringRise: 0.1, stringNut: 0.1, reading: 0.2 }).sums,
  );
  const tried = backtest(quiet, { specs, usage, loss });
  const { comparisons } = tried;
  for (const sentence of backtestSentences(tried).slice(1))
    expect(sentence).toContain('there is no difference that these 24 instruments can show');
  for (const { difference, low, high, tied } of comparisons['frets read']) {
    expect(low).toBeLessThanOrEqual(0);
    expect(high).toBeGreaterThanOrEqual(0);
    expect(difference).toBeCloseTo(0, 12);
    expect(tied).toBe(24);
  }
  expect(comparisons['frets read']).toHaveLength(rulesOfThumb.length);
});

test('backtest puts strings on one saddle at one place', () => {
  const specs = trend.models.map(({ model }) => ({ model, saddles: [[1, 2, 3, 4]] }) as unknown as ModelSpec);
  const tried = backtest(trend, { specs, usage, loss: { kind: 'squared' }, audibleCents: 0 });
  const { sums } = trend;
  const at = 5;
  const blocks = [...sums.blockString.keys()].filter((block) => sums.blockInstrument[block] === at);
  const read = (fret: number): number[] => blocks.map((block) => meanAt(sums, block, fret)!);
  const mean = (values: readonly number[]): number => values.reduce((sum, one) => sum + one, 0) / values.length;
  // "12th exact": the saddle takes the mean of the 12ths away, and kappa times as much at the 17ths.
  const move = mean(read(12));
  const twelfth = mean(read(12).map((cents) => Math.abs(cents - move)));
  const seventeenth = mean(read(17).map((cents) => Math.abs(cents - kappa * move)));
  const { realised } = tried.instruments.find(({ instrument }) => instrument === sums.instruments[at])!;
  expect(realised['12th exact'].audible12And17).toBeCloseTo((twelfth + seventeenth) / 2, 10);
});
