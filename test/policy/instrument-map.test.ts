import { table } from 'arquero';
import { describe, expect, test } from 'vitest';
import { riseShape, saddleLeverage } from '../../src/acoustics/frets.ts';
import { moveCents, moveForCents } from '../../src/acoustics/saddle.ts';
import { forecastModel } from '../../src/policy/forecast.ts';
import { instrumentNeckMap } from '../../src/policy/instrument-map.ts';
import { makeStandard } from '../../src/policy/standard.ts';
import { type BlockSums, meanAt, sumReadings } from '../../src/sources/block-sums.ts';
import { fitTrend } from '../../src/trend/fit-trend.ts';
import type { Trend } from '../../src/trend/trend.ts';
import { simulateShop, usualShop } from '../../src/trend/simulate-shop.ts';
import {
  inventedReadings,
  inventedStandard,
  inventedTrend,
  type ReadingRow,
  spread,
} from '../figures/invented-trend.ts';

const trend = inventedTrend({ models: ['Fern'], rises: [3, 2, 4], nut: 0.5, frets: [12, 17], noise: 0.5 });
const { standard } = inventedStandard(trend);
const options = { trend, standard, specs: [] };
const map = instrumentNeckMap('Fern-1', options);
const rows = inventedReadings({ models: ['Fern'], rises: [3, 2, 4], nut: 0.5, frets: [12, 17], noise: 0.5 });
const readingOf = (string: number, fret: number): number =>
  rows.find((row) => row.instrument === 'Fern-1' && row.string === string && row.fret === fret)!.cents;

test('instrumentNeckMap shows readings as they were read and marks them', () => {
  for (const { string, before } of map.strings) {
    expect(before[0]).toEqual({ cents: 0, low: 0, high: 0, isRead: false });
    for (const fret of [12, 17]) {
      expect(before[fret]!.cents).toBe(readingOf(string, fret));
      expect((before[fret]!.high - before[fret]!.low) / 2).toBeCloseTo(1.959964 * spread.reading, 5);
    }
    expect(before.flatMap(({ isRead }, fret) => (isRead ? [fret] : []))).toEqual([12, 17]);
  }
});

// Independent: the same normal model solved at once, in information form with no prior at all on the saddle, by Gaussian
// elimination. The map itself takes one reading after the other.
test('instrumentNeckMap predicts the gaps as the normal model does, solved in another way', () => {
  for (const { string, before } of map.strings) {
    const forecast = forecastModel(trend.models[0]!, trend)[string - 1]!;
    const determinant = forecast.nutVariance * forecast.riseVariance - forecast.covariance ** 2;
    const prior = [
      [forecast.riseVariance / determinant, -forecast.covariance / determinant],
      [-forecast.covariance / determinant, forecast.nutVariance / determinant],
    ];
    const means = [forecast.nut, forecast.rise];
    const information = [0, 1, 2].map((i) => [0, 1, 2].map((j) => prior[i]?.[j] ?? 0));
    const score = [0, 1, 2].map((i) => means.reduce((sum, mean, j) => sum + (prior[i]?.[j] ?? 0) * mean, 0));
    const x = (fret: number): number[] => [1, riseShape(fret), saddleLeverage(fret)];
    for (const fret of [12, 17])
      for (let i = 0; i < 3; i++) {
        score[i]! += (x(fret)[i]! * readingOf(string, fret)) / spread.reading ** 2;
        for (let j = 0; j < 3; j++) information[i]![j]! += (x(fret)[i]! * x(fret)[j]!) / spread.reading ** 2;
      }
    const state = solve(information, score);
    for (const fret of [1, 5, 9, 14, 20]) {
      const { cents, low, high } = before[fret]!;
      expect(cents).toBeCloseTo(
        x(fret).reduce((sum, one, i) => sum + one * state[i]!, 0),
        4,
      );
      const along = solve(information, x(fret));
      const variance = x(fret).reduce((sum, one, i) => sum + one * along[i]!, 0);
      expect((high - low) / 2).toBeCloseTo(1.959964 * Math.sqrt(variance), 4);
    }
  }
});

/** Solves a x = b by Gaussian elimination. */
function solve(a: readonly (readonly number[])[], b: readonly number[]): number[] {
  const rows = a.map((row, i) => [...row, b[i]!]);
  rows.forEach((pivot, i) => {
    rows.forEach((row, k) => {
      if (k === i) return;
      const factor = row[i]! / pivot[i]!;
      for (let j = i; j < row.length; j++) row[j]! -= factor * pivot[j]!;
    });
  });
  return rows.map((row, i) => row.at(-1)! / row[i]!);
}

test('instrumentNeckMap moves every fret by its leverage, close to the exact geometry', () => {
  for (const { before, after } of map.strings) {
    const change = after[12]!.cents - before[12]!.cents;
    const from = { scaleMm: 648, setbackMm: 1 };
    const moveMm = moveForCents(12, change, from);
    expect(Math.abs(moveMm)).toBeLessThan(3);
    for (const fret of [1, 5, 12, 17]) {
      // The bound of the doc comment.
      expect(Math.abs(after[fret]!.cents - before[fret]!.cents - moveCents(fret, moveMm, from))).toBeLessThan(0.03);
      expect(after[fret]!.high - after[fret]!.low).toBeCloseTo(before[fret]!.high - before[fret]!.low, 10);
    }
  }
});

// Without noise in model or reading all is known: nut 0.5, rise as invented; t = R + (1 - kappa) N.
test('instrumentNeckMap leaves the 12th where the share of the own rise puts it', () => {
  const exact = inventedTrend({ models: ['Fern'], rises: [3, 2, 4], nut: 0.5, frets: [1, 5, 12, 17] });
  const sharp: Trend = { ...exact, spread: { ...exact.spread, reading: 1e-3 } };
  const made = inventedStandard(exact).standard;
  const { strings } = instrumentNeckMap('Fern-2', { trend: sharp, standard: made, specs: [] });
  [3, 2, 4].forEach((rise, at) => {
    const t = rise - 0.66968 * 0.5;
    const { share } = made.entries[at]!;
    expect(strings[at]!.after[12]!.cents).toBeCloseTo((-share * t) / 1.66968, 3);
    expect(strings[at]!.after[17]!.cents).toBeCloseTo((1 - share) * t, 3);
  });
});

test('instrumentNeckMap moves strings on one saddle alike, by the mean of what each would need', () => {
  const spec = {
    model: 'Fern',
    scaleMm: 648,
    strings: 3,
    frets: 20,
    saddles: [[1, 3], [2]],
    mmPerTurn: null,
    travelMm: null,
    placement: 'equal',
  };
  const usage = new Map([1, 2, 3].map((string) => [string, new Map([[12, 1]])]));
  const apart = makeStandard(trend, [], {
    usage,
    usageName: 'the 12th',
    loss: { kind: 'squared' },
    created: '2026-01-01',
    inputs: [],
  });
  const joined = {
    ...apart,
    entries: apart.entries.map((entry) => ({ ...entry, saddle: entry.string === 2 ? [2] : [1, 3] })),
  };
  const moved = (made: typeof apart): number[] =>
    instrumentNeckMap('Fern-0', { trend, standard: made, specs: [spec] }).strings.map(
      ({ before, after }) => after[12]!.cents - before[12]!.cents,
    );
  const [alone, together] = [moved(apart), moved(joined)];
  expect(together[0]).toBeCloseTo((alone[0]! + alone[2]!) / 2, 10);
  expect(together[2]).toBeCloseTo(together[0]!, 10);
  expect(together[1]).toBeCloseTo(alone[1]!, 10);
  expect(Math.abs(alone[0]! - alone[2]!)).toBeGreaterThan(0.1);
});

test('instrumentNeckMap shows the first pass, leaves out unread strings, and refuses an unknown instrument', () => {
  const later: ReadingRow[] = [12, 17].map((fret) => ({
    instrument: 'Fern-0',
    model: 'Fern',
    string: 1,
    fret,
    pass: 1,
    cents: 9,
  }));
  const two = inventedTrend({
    models: ['Fern'],
    extra: [...later, { instrument: 'Late', model: 'Fern', string: 2, fret: 12, pass: 0, cents: 1.5 }],
  });
  const made = { trend: two, standard: inventedStandard(two).standard, specs: [] };
  expect(instrumentNeckMap('Fern-0', made).strings[0]!.before[12]!.cents).not.toBe(9);
  const late = instrumentNeckMap('Late', made);
  expect(late.strings.map(({ string }) => string)).toEqual([2]);
  expect(late.unread).toEqual([1, 3]);
  expect(late.strings[0]!.before[12]!.cents).toBe(1.5);
  expect(() => instrumentNeckMap('Nobody', made)).toThrow(
    'Cannot map the neck of instrument "Nobody": the log does not hold it; expected one such as Fern-0, Fern-1, Fern-2',
  );
});

describe('instrumentNeckMap of simulated instruments', () => {
  // Simulated with a seed from known truth. Every third instrument was read at eleven frets; some of those readings are kept
  // from the program and then held against what it predicts from the others.
  const { sums } = simulateShop(31, { ...usualShop, technicians: 1, hand: 0, manyFretsEvery: 2 });
  const hidden = [5, 9, 15, 19, 21];
  const shown = withoutFrets(sums, hidden);
  const fitted = fitTrend(shown);
  const usage = new Map([[1, new Map([5, 12, 17].map((fret) => [fret, 1]))]]);
  const made = makeStandard(fitted, [], {
    usage,
    usageName: 'three frets',
    loss: { kind: 'squared' },
    created: '2026-01-01',
    inputs: [],
  });

  test.each(hidden)('holds the readings at fret %d that it was not shown, 95 in 100', (fret) => {
    let [held, all] = [0, 0];
    const maps = sums.instruments.map((instrument) =>
      instrumentNeckMap(instrument, { trend: fitted, standard: made, specs: [] }),
    );
    for (let block = 0; block < sums.blockString.length; block++) {
      const cents = sums.blockPass[block] === 0 ? meanAt(sums, block, fret) : undefined;
      if (cents === undefined) continue;
      const note = maps[sums.blockInstrument[block]!]!.strings[sums.blockString[block]! - 1]!.before[fret]!;
      expect(note.isRead).toBe(false);
      const half = 1.96 * Math.hypot((note.high - note.low) / (2 * 1.96), 0.5);
      all++;
      if (Math.abs(cents - note.cents) <= half) held++;
    }
    // 216 strings; three binomial standard errors are 4.4 %.
    expect(all).toBe(216);
    expect(Math.abs(held / all - 0.95)).toBeLessThan(3 * Math.sqrt((0.95 * 0.05) / all));
  });
});

/** The same sums without the readings at some frets. */
function withoutFrets(sums: BlockSums, frets: readonly number[]): BlockSums {
  const readings = Array.from({ length: sums.blockString.length }, (_, block) => block).flatMap((block) =>
    Array.from(
      { length: sums.blockStart[block + 1]! - sums.blockStart[block]! },
      (_, at) => sums.blockStart[block]! + at,
    )
      .filter((cell) => !frets.includes(sums.cellFret[cell]!))
      .map((cell) => ({
        instrument: sums.instruments[sums.blockInstrument[block]!]!,
        model: sums.models[sums.modelOfInstrument[sums.blockInstrument[block]!]!]!,
        string: sums.blockString[block]!,
        pass: sums.blockPass[block]!,
        fret: sums.cellFret[cell]!,
        cents: sums.cellMean[cell]!,
      })),
  );
  const column = <K extends keyof (typeof readings)[number]>(key: K) => readings.map((one) => one[key]);
  return sumReadings(
    table({
      instrument: column('instrument'),
      model: column('model'),
      string: column('string'),
      pass: column('pass'),
      fret: column('fret'),
      cents: column('cents'),
    }),
  );
}
