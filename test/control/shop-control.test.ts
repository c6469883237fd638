import { describe, expect, test } from 'vitest';
import { oddWords, signalWords } from '../../src/control/control-words.ts';
import { leftInstruments } from '../../src/control/left-instruments.ts';
import { shopControl, type ShopControl } from '../../src/control/shop-control.ts';
import { normalRandom } from '../../src/statistics/random.ts';
import { dayAfter, inventedEntry, inventedStandard, leftReadings } from './invented-bench.ts';

const models = ['Fern', 'Moss', 'Reed', 'Sedge'];
const standard = inventedStandard(models.flatMap((model) => [1, 2].map((string) => inventedEntry({ model, string }))));

/** A bench whose saddle errors scatter by 0.4 cents about what is planted; three technicians take turns at four models. */
function bench(
  seed: number,
  planted: (job: { day: number; technician: string; model: string }) => number,
): ShopControl {
  const normal = normalRandom(seed);
  const plans = Array.from({ length: 144 }, (_, at) => at).flatMap((at) => {
    const [technician, model] = [['ann', 'ben', 'cas'][at % 3]!, models[Math.floor(at / 3) % 4]!];
    const error = planted({ day: at, technician, model }) + 0.4 * normal();
    return [1, 2].map((string) => ({
      instrument: `J${at}`,
      model,
      string,
      rise: 3 + normal(),
      error,
      technician,
      at: dayAfter(at),
    }));
  });
  return shopControl(leftInstruments(leftReadings(standard, plans), standard), standard);
}
const seeds = Array.from({ length: 20 }, (_, at) => at + 1);
const named = ({ signals }: ShopControl): string[] =>
  signals.map(({ of, name, side, lasts }) => [of, name, side, lasts].join(' '));
/** How many of the benches signal so. */
const count = (benches: readonly ShopControl[], signal: string): number =>
  benches.filter((control) => named(control).includes(signal)).length;
/** How many signals the benches give beside one. */
const others = (benches: readonly ShopControl[], signal: string): number =>
  benches.flatMap(named).filter((one) => one !== signal).length;

// Truth known, as planted; seeded. A quiet chart alarms falsely once in 1000 instruments or so: 20 benches of 288 instruments on
// charts hold 6 false signals, and more than 14 would be seen once in 1000 tries (Poisson).
describe('shopControl', () => {
  test('rarely finds anything where the bench keeps to the standard', () => {
    const benches = seeds.map((seed) => bench(seed, () => 0));
    expect(benches.flatMap(named).length).toBeLessThanOrEqual(14);
    const [control] = benches;
    expect(control!.charts.map(({ kind }) => kind)).toEqual([
      'shop',
      ...Array<string>(3).fill('technician'),
      ...Array<string>(4).fill('model'),
    ]);
    expect(control!.strings).toBe(288);
    // 0.4 cents against a window of 1: P(|z| < 2.5) = 0.9876.
    expect(control!.within / 288).toBeGreaterThan(0.96);
  });

  test('names the technician whose saddles shift, and rarely anybody else', () => {
    const benches = seeds.map((seed) =>
      bench(seed, ({ day, technician }) => (technician === 'ben' && day >= 60 ? 1.2 : 0)),
    );
    const signal = 'technician ben sharp true';
    expect(count(benches, signal)).toBeGreaterThanOrEqual(19);
    expect(others(benches, signal)).toBeLessThanOrEqual(14);
    const found = benches[0]!.signals.find(({ of, name }) => of === 'technician' && name === 'ben')!;
    // The 61st job is ben's, and the shift is dated to within a few of his jobs, one every three days.
    expect(Math.abs(found.fromAt - Date.parse(dayAfter(61))) / 86_400_000).toBeLessThanOrEqual(12);
    expect(found.size).toBeCloseTo(1.2, 0);
    const { what, cause } = signalWords(found, 1);
    expect(what).toMatch(/^ben leaves saddles 1\.\d cents sharp of the standard, since 2026-0[23]-\d\d/);
    expect(cause).toBe(
      'Saddles stand too far forward with one technician and not with all: the hand (pressure, playing position), the tuner, or a habit other than the standard.',
    );
  });

  test('names the technician who drifts at the end of the log, and rarely a model', () => {
    const benches = seeds.map((seed) =>
      bench(seed, ({ day, technician }) => (technician === 'ben' && day >= 120 ? 0.15 * (day - 120) : 0)),
    );
    const signal = 'technician ben sharp true';
    expect(count(benches, signal)).toBeGreaterThanOrEqual(19);
    expect(others(benches, signal)).toBeLessThanOrEqual(14);
  });

  test('names the model that shifts under every hand, and holds it against no one else', () => {
    const benches = seeds.map((seed) => bench(seed, ({ day, model }) => (model === 'Reed' && day >= 60 ? -1.6 : 0)));
    const signal = 'model Reed flat true';
    expect(count(benches, signal)).toBeGreaterThanOrEqual(19);
    expect(others(benches, signal)).toBeLessThanOrEqual(14);
    const reed = benches[0]!.signals.find(({ name }) => name === 'Reed')!;
    expect(signalWords(reed, 1).cause).toBe(
      'One model and no hand: its strings or parts changed, or its entry in the standard does not suit it.',
    );
    expect(benches[0]!.notes.at(-1)).toMatch(/Reed.*left out of the charts of the shop and its technicians\.$/);
  });

  test('speaks of the shop where everybody shifts', () => {
    const benches = seeds.map((seed) => bench(seed, ({ day }) => (day >= 60 ? -1 : 0)));
    const signal = 'shop  flat true';
    expect(count(benches, signal)).toBeGreaterThanOrEqual(19);
    expect(others(benches, signal)).toBeLessThanOrEqual(14);
    const { what, cause } = signalWords(benches[0]!.signals[0]!, 1);
    expect(what).toMatch(/^All technicians leave saddles (0\.9|1\.\d) cents flat of the standard, since 2026-0[23]/);
    expect(cause).toBe(
      'Saddles stand too far back with everyone: the standard or the tuner changed, or the standard is not followed.',
    );
  });

  test('points at one instrument', () => {
    const control = bench(5, ({ day }) => (day === 70 ? 5 : 0));
    expect(control.odd.map(({ instrument }) => instrument)).toContain('J70');
    expect(oddWords(control.odd.find(({ instrument }) => instrument === 'J70')!)).toMatch(
      /^J70 \(Sedge, ben, 2026-03-16\): [45]\.\d cents sharp of the standard, unlike those before it\./,
    );
  });

  test('says what it leaves out, and what was left before the standard', () => {
    const plan = { model: 'Fern', string: 1, rise: 3, error: 0 };
    const plans = [
      { ...plan, instrument: 'A', at: '2025-12-01' },
      { ...plan, instrument: 'B', at: null },
      { ...plan, instrument: 'C', before: 0 },
      { ...plan, instrument: 'D', model: 'Unknown' },
    ];
    const control = shopControl(leftInstruments(leftReadings(standard, plans), standard), standard);
    expect(control.signals).toEqual([]);
    expect(control.notes).toEqual([
      '1 instrument with readings as received only: how they were left is not in the log.',
      '1 instrument left out: the standard has no entry for them, or their last pass lacks the 12th or the 17th.',
      '1 instrument without a date (measured_at): counted in the totals, not in the charts.',
      'No chart of Fern: a model is held against 4 instruments or more of other models by the same technician.',
      'Too few to judge, under 8 instruments: ann (1).',
      'All instruments were left before the standard was drawn up on 2026-01-01: there, the charts show how the bench worked without it.',
    ]);
  });
});
