import { describe, expect, test } from 'vitest';
import { riseShape } from '../../src/acoustics/frets.ts';
import { frettedCents } from '../../src/acoustics/saddle.ts';
import { forecastModel } from '../../src/policy/forecast.ts';
import { modelNeckMap } from '../../src/policy/neck-map.ts';
import { makeStandard } from '../../src/policy/standard.ts';
import { meanAt } from '../../src/sources/block-sums.ts';
import { normalRandom } from '../../src/statistics/random.ts';
import { fitTrend } from '../../src/trend/fit-trend.ts';
import { simulateShop, usualShop } from '../../src/trend/simulate-shop.ts';
import { inventedStandard, inventedTrend } from '../figures/invented-trend.ts';

const spec = {
  model: 'Fern',
  scaleMm: 648,
  strings: 3,
  frets: 22,
  saddles: [[1], [2], [3]],
  mmPerTurn: 0.7,
  travelMm: 12,
  placement: 'equal',
};
const trend = inventedTrend({ models: ['Fern'], rises: [3, 2, 4], nut: 0.5 });
const { standard } = inventedStandard(trend);
const options = { trend, standard, specs: [spec] };
const map = modelNeckMap('Fern', { ...options, from: '12th exact' });

test('modelNeckMap has every string at frets 0 to the last, the open string at 0', () => {
  expect(map.strings.map(({ string }) => string)).toEqual([1, 2, 3]);
  for (const { before, after } of map.strings)
    for (const notes of [before, after]) {
      expect(notes).toHaveLength(23);
      expect(notes[0]).toEqual({ cents: 0, low: 0, high: 0, isRead: false });
      for (const { cents, low, high } of notes) expect(low <= cents && cents <= high).toBe(true);
    }
});

test('modelNeckMap makes the 12th exact before, and leaves the targets of the standard after', () => {
  for (const { string, before, after } of map.strings) {
    const entry = standard.entries.find((one) => one.string === string)!;
    expect(before[12]!.cents).toBeCloseTo(0, 12);
    expect(before[12]!.high - before[12]!.low).toBeCloseTo(0, 12);
    expect(after[12]!.cents).toBeCloseTo(entry.target12, 10);
    expect(after[17]!.cents).toBeCloseTo(entry.target17, 10);
  }
});

// Independent of the closed form: 20 000 instruments with nut offsets and rises drawn from the forecast, each saddle set by
// bisection on the exact geometry so that the 12th reads 0, or -q t / 1.66968 with t = e17 - 1.66968 e12 read off the string.
test('modelNeckMap agrees with instruments drawn at random and set up on the exact geometry', () => {
  const normal = normalRandom(3);
  const forecast = forecastModel(trend.models[0]!, trend)[2]!;
  const { share } = standard.entries[2]!;
  const frets = [1, 5, 17, 22];
  const drawn = Array.from({ length: 20_000 }, () => {
    const nut = forecast.nut + Math.sqrt(forecast.nutVariance) * normal();
    const rise = forecast.rise + Math.sqrt(forecast.riseVariance) * normal();
    const read = (fret: number, setbackMm: number): number =>
      nut + rise * riseShape(fret) + frettedCents(fret, { scaleMm: 648, setbackMm });
    const t = read(17, 0) - 1.6696797 * read(12, 0);
    const set = (target: number): number => {
      let [low, high] = [-10, 10];
      for (let step = 0; step < 50; step++) {
        const middle = (low + high) / 2;
        if (read(12, middle) > target) low = middle;
        else high = middle;
      }
      return low;
    };
    const [exact, shared] = [set(0), set((-share * t) / 1.6696797)];
    return frets.map((fret) => ({ before: read(fret, exact), after: read(fret, shared) }));
  });
  frets.forEach((fret, at) => {
    for (const side of ['before', 'after'] as const) {
      const errors = drawn.map((one) => one[at]![side]);
      const { cents, low, high } = map.strings[2]![side][fret]!;
      // Three standard errors of the mean, and 0.02 cents for the linear form of the saddle.
      const sd = (high - low) / (2 * 1.959964);
      const mean = errors.reduce((sum, one) => sum + one, 0) / errors.length;
      expect(Math.abs(mean - cents), `fret ${fret} ${side}`).toBeLessThan((3 * sd) / Math.sqrt(20_000) + 0.02);
      const held = errors.filter((error) => error >= low && error <= high).length / errors.length;
      // Three binomial standard errors of 95 % are 0.5 %, and the geometry moves the ends a little.
      expect(Math.abs(held - 0.95), `fret ${fret} ${side}`).toBeLessThan(0.01);
    }
  });
});

describe('modelNeckMap as received', () => {
  // Simulated with a seed from known truth: 6 models of 12 instruments, previous saddles with a standard deviation of 2 cents.
  const shop = simulateShop(21, { ...usualShop, technicians: 1, hand: 0 });
  const fitted = fitTrend(shop.sums);
  const usage = new Map([1, 2, 3, 4, 5, 6].map((string) => [string, new Map([5, 12, 17].map((fret) => [fret, 1]))]));
  const made = makeStandard(fitted, [], {
    usage,
    usageName: 'three frets',
    loss: { kind: 'squared' },
    created: '2026-01-01',
    inputs: [],
  });
  const maps = new Map(
    fitted.models.map(({ model }) => [
      model,
      modelNeckMap(model, { trend: fitted, standard: made, specs: [], from: 'as received' }),
    ]),
  );

  test.each([12, 17, 5, 21])('holds what instruments read at fret %d on their first pass, 95 in 100', (fret) => {
    let [held, all] = [0, 0];
    const { sums } = fitted;
    for (let block = 0; block < sums.blockString.length; block++) {
      const cents = sums.blockPass[block] === 0 ? meanAt(sums, block, fret) : undefined;
      if (cents === undefined) continue;
      const model = sums.models[sums.modelOfInstrument[sums.blockInstrument[block]!]!]!;
      const note = maps.get(model)!.strings[sums.blockString[block]! - 1]!.before[fret]!;
      // A reading scatters about the note by its own 0.5 cents.
      const half = 1.96 * Math.hypot((note.high - note.low) / (2 * 1.96), 0.5);
      all++;
      if (Math.abs(cents - note.cents) <= half) held++;
    }
    // Three binomial standard errors; strings of an instrument go together, so that counts as a third of the readings.
    expect(all).toBeGreaterThan(100);
    expect(Math.abs(held / all - 0.95)).toBeLessThan(3 * Math.sqrt((0.95 * 0.05) / (all / 3)));
  });

  test('differs from "12th exact" by a saddle term alone, and not at all after', () => {
    for (const [model, received] of maps) {
      const exact = modelNeckMap(model, { trend: fitted, standard: made, specs: [], from: '12th exact' });
      received.strings.forEach(({ before, after }, at) => {
        const saddle = before[12]!.cents - exact.strings[at]!.before[12]!.cents;
        for (const fret of [3, 7, 17, 20])
          expect(before[fret]!.cents - exact.strings[at]!.before[fret]!.cents).toBeCloseTo(
            saddle * (2 ** (fret / 12) - 1),
            10,
          );
        expect(after).toEqual(exact.strings[at]!.after);
      });
    }
  });
});

test('modelNeckMap leaves out a string that was never read at the 12th as received, and says so', () => {
  const extra = ['Moss-0', 'Moss-1'].flatMap((instrument) =>
    [5, 17].map((fret) => ({ instrument, model: 'Fern', string: 4, fret, pass: 0, cents: 1 })),
  );
  const wide = inventedTrend({ models: ['Fern'], rises: [3, 2, 4], extra });
  const [fern] = wide.models;
  const four = {
    ...fern!,
    cells: [...fern!.cells, { ...fern!.cells[0]!, string: 4 }],
    covariance: Array.from({ length: 5 }, (_, i) => Array.from({ length: 5 }, (_unused, j) => (i === j ? 0.06 : 0))),
  };
  const known = { ...wide, models: [four] };
  const received = modelNeckMap('Fern', {
    trend: known,
    standard: inventedStandard(known).standard,
    specs: [],
    from: 'as received',
  });
  expect(received.strings.map(({ string }) => string)).toEqual([1, 2, 3]);
  expect(received.unread).toEqual([4]);
});

test('modelNeckMap refuses a model that the standard does not hold, and saddles that nothing tells of', () => {
  expect(() => modelNeckMap('Moss', { ...options, from: '12th exact' })).toThrow(
    'Cannot map the neck of "Moss": the standard does not hold it; expected one of Fern',
  );
  const high = inventedTrend({ models: ['Fern'], frets: [5, 17] });
  expect(() =>
    modelNeckMap('Fern', { trend: high, standard: inventedStandard(high).standard, specs: [], from: 'as received' }),
  ).toThrow(
    'Cannot tell how saddles of "Fern" come in: none of its strings was read at the 12th; expected such readings on the first pass, or ask for "12th exact"',
  );
});

test('modelNeckMap maps a model that nobody has read from the shop, wider than one that was', () => {
  const specs = [spec, { ...spec, model: 'Not Read' }];
  const made = makeStandard(trend, specs, {
    usage: new Map([[1, new Map([[12, 1]])]]),
    usageName: 'the 12th',
    loss: { kind: 'squared' },
    created: '2026-01-01',
    inputs: [],
  });
  const unread = modelNeckMap('Not Read', { trend, standard: made, specs, from: '12th exact' });
  const [theirs, ours] = [unread.strings[0]!.before[17]!, map.strings[0]!.before[17]!];
  expect(theirs.high - theirs.low).toBeGreaterThan(ours.high - ours.low);
});
