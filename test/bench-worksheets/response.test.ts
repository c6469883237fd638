import { expect, test } from 'vitest';
import { learnGain, learnGainByRule, type Response, unknownGain } from '../../src/bench/response.ts';
import { makeWorksheets, type Worksheet } from '../../src/bench/worksheet.ts';
import { type BenchReading, evenUsage, readingsOf, standardOf } from './bench-standard.ts';
import { condition } from './gaussian.ts';

const kappa = 2 ** (17 / 12) - 1;

interface Pass {
  /** The 12th, the saddle's part; the 17th follows with the rise. */
  readonly cents12: number;
  /** What all frets read more since the open string is off. */
  readonly open?: number;
  readonly saddleMm?: number;
}

/** A string of rise 3 at each pass, read without noise. */
function sheetOf(passes: readonly Pass[], mmPerTurn: number | null = 0.7): Worksheet {
  const rows = passes.flatMap(({ cents12, open = 0, saddleMm }, pass): BenchReading[] =>
    [12, 17].map((fret) => ({
      pass,
      fret,
      cents: (fret === 12 ? cents12 : 3 + kappa * cents12) + open,
      ...(saddleMm === undefined ? {} : { saddleMm }),
    })),
  );
  const standard = standardOf([{ model: 'Larch', rises: [3], share: 0, mmPerTurn }]);
  return makeWorksheets(readingsOf(rows), { standard, models: [], usage: evenUsage })[0]!;
}
const responseOf = (sheet: Worksheet): Response => sheet.saddles[0]!.response!;

// With share 0 the target is 0: a 12th of +10 is asked to change by -10.
test.each([
  [10, 0, 1, 'as-predicted'],
  [10, 3.9, 0.61, 'as-predicted'],
  [10, -3.9, 1.39, 'as-predicted'],
  [10, 4.1, 0.59, 'weak'],
  [10, -4.1, 1.41, 'strong'],
  [10, 10, 0, 'none'],
  [10, 14, -0.4, 'wrong-way'],
  [1.2, 0.6, 0.5, 'too-small-to-tell'],
] as const)('a 12th of %f that reads %f after the move answers %f times: %s', (before, after, ratio, verdict) => {
  const response = responseOf(sheetOf([{ cents12: before }, { cents12: after }]));
  expect(response.predicted).toBeCloseTo(-before, 9);
  expect(response.ratio).toBeCloseTo(ratio, 2);
  expect(response.verdict).toBe(verdict);
});

// Least squares by hand: s = (D12 + kappa D17) / (1 + kappa^2), variance 2 sigma^2 / (1 + kappa^2).
test('the answer is the least-squares shift of the 12th and the 17th together', () => {
  const rows = [
    [0, 12, 10],
    [0, 17, 19],
    [1, 12, 1],
    [1, 17, 5],
  ].map(([pass, fret, cents]) => ({ pass: pass!, fret: fret!, cents: cents! }));
  const standard = standardOf([{ model: 'Larch', rises: [3], share: 0 }]);
  const [sheet] = makeWorksheets(readingsOf(rows), { standard, models: [], usage: evenUsage });
  const response = responseOf(sheet!);
  expect(response.measured).toBeCloseTo((-9 - kappa * 14) / (1 + kappa ** 2), 12);
  expect(response.measuredSd).toBeCloseTo(Math.sqrt((2 * 0.25) / (1 + kappa ** 2)), 12);
});

test('the next step follows from the measured answer, and says what a turn seems to make', () => {
  const weak = sheetOf([{ cents12: 10 }, { cents12: 5 }]);
  const [{ move, gain }] = weak.saddles as [Worksheet['saddles'][number]];
  // Half the answer: a turn seems to make about half of what is stated, so the same millimetres take more turns.
  expect(gain.mean).toBeGreaterThan(0.5);
  expect(gain.mean).toBeLessThan(0.53);
  expect(move!.turns).toBeCloseTo(move!.moveMm / (0.7 * gain.mean), 12);
  expect(weak.answers).toEqual([
    'String 1: the move asked for should have changed the 12th by -10.0 cents; it changed by -5.0 (0.50 times; usual is 0.6 to 1.4). Check that the open string was retuned; else the screw travels less a turn than stated.',
    `Going by the answers, a turn does not make 0.7 mm; turns now count with ${(0.7 * gain.mean).toFixed(2)} (string 1).`,
  ]);
  const unstated = sheetOf([{ cents12: 10 }, { cents12: 5 }], null);
  expect(unstated.saddles[0]!.move!.turns).toBeNull();
  expect(unstated.answers[1]).toMatch(
    /^Going by the answers, the hand makes other than it means, so the move given is what to aim for: 0\.51 times, to make 1\.\d\d mm \(string 1\)\.$/,
  );
  expect(sheetOf([{ cents12: 10 }, { cents12: 0.2 }]).answers).toEqual(['The saddles answered as predicted.']);
});

// Normal theory: the gain is normal before, the answer is the gain times the move plus noise.
test('learnGain is the conditional mean of the gain given the answer', () => {
  const [predicted, measured, measuredSd] = [-8, -6, 0.7];
  const base = { from: 0, to: 1, verdict: 'as-predicted', openStrings: [] } as const;
  const learnt = learnGain(unknownGain, { ...base, predicted, measured, measuredSd, ratio: measured / predicted });
  const by = condition([1], [[unknownGain.sd ** 2]], { h: [[predicted]], y: [measured], noise: [measuredSd ** 2] });
  expect(learnt.mean).toBeCloseTo(by.mean[0]!, 12);
  expect(learnt.sd ** 2).toBeCloseTo(by.covariance[0]![0]!, 12);
  // The second answer counts in units of the first.
  const again = learnGain(learnt, { ...base, predicted: 4, measured: 5, measuredSd, ratio: 1.25 });
  const twice = condition([learnt.mean], [[learnt.sd ** 2]], {
    h: [[4 / learnt.mean]],
    y: [5],
    noise: [measuredSd ** 2],
  });
  expect(again.mean).toBeCloseTo(twice.mean[0]!, 12);
});

test('learnGain learns nothing from an answer that tells of another cause', () => {
  const base = { from: 0, to: 1, predicted: -8, measuredSd: 0.7, verdict: 'none', openStrings: [] } as const;
  for (const measured of [0.5, -1, 6, -40])
    expect(learnGain(unknownGain, { ...base, measured, ratio: measured / -8 })).toBe(unknownGain);
  const open = [{ string: 1, cents: 8 }];
  expect(learnGain(unknownGain, { ...base, measured: -6, ratio: 0.75, openStrings: open })).toBe(unknownGain);
  expect(learnGain(unknownGain, { ...base, predicted: 0, measured: -6, ratio: null })).toBe(unknownGain);
  expect(learnGainByRule(unknownGain, 1, 0)).toBe(unknownGain);
});

test('an open string that was not retuned is told from a saddle, and named before any move', () => {
  const sheet = sheetOf([{ cents12: 10 }, { cents12: 0, open: 9 }]);
  const [open] = responseOf(sheet).openStrings;
  expect(open!.string).toBe(1);
  expect(open!.cents).toBeCloseTo(9, 9);
  expect(sheet.saddles[0]!.move).toBeUndefined();
  expect(sheet.faults).toEqual([]);
  // What is left is the saddle's own answer.
  expect(responseOf(sheet).measured).toBeCloseTo(-10, 9);
  expect(sheet.answers).toEqual([
    'String 1: all frets read +9.0 cents against pass 0, which no saddle does. Retune the open string exactly and read again before you move anything.',
  ]);
  expect(responseOf(sheetOf([{ cents12: 10 }, { cents12: 0, open: 3 }])).openStrings).toEqual([]);
});

test('a move written down is what the answer is held against', () => {
  // 2 mm back on 648 mm: 1200 log2(650 / 326) - 1200 = -5.31 cents at the 12th, where 10 had been asked for.
  const answer = (1200 * Math.log(650 / 326)) / Math.LN2 - 1200;
  const sheet = sheetOf([
    { cents12: 10, saddleMm: 0 },
    { cents12: 10 + answer, saddleMm: 2 },
  ]);
  expect(responseOf(sheet).predicted).toBeCloseTo(answer, 9);
  expect(responseOf(sheet).verdict).toBe('as-predicted');
  const [{ askedMm, madeMm, gain }] = sheet.saddles as [Worksheet['saddles'][number]];
  expect(madeMm).toBe(2);
  expect(gain.mean).toBeCloseTo(2 / askedMm!, 1);
  // 10 cents are 648 (1 - r / 2) / (r - 1) = 3.776 mm with r = 2^(1190 / 1200).
  expect(sheet.answers).toEqual([
    'The saddles answered as predicted.',
    `By the rule: went 2.00 mm, asked 3.80 mm (string 1). If turned as asked, the screws are not as stated: turns now count with ${(0.7 * gain.mean).toFixed(2)} (string 1) mm, not 0.7.`,
  ]);
  // 3.8 mm back: 1200 log2(651.8 / 327.8) - 1200 = -10.08 cents.
  const dumb = sheetOf([
    { cents12: 10, saddleMm: 0 },
    { cents12: 10, saddleMm: 3.8 },
  ]);
  expect(dumb.answers).toEqual([
    'String 1: the saddle went 3.80 mm back by the rule, which should have changed the 12th by -10.1 cents; it changed by 0.0 (0.00 times; usual is 0.6 to 1.4). Check that the open string was retuned.',
  ]);
});

test('a saddle that was to be left and moved is asked about', () => {
  const sheet = sheetOf([{ cents12: 0.3 }, { cents12: -6 }]);
  expect(responseOf(sheet)).toMatchObject({ predicted: 0, ratio: null, verdict: 'not-asked' });
  expect(sheet.answers).toEqual([
    'String 1: to be left alone, and yet the 12th changed by -6.3 cents: was the open string retuned, did the saddle shift?',
  ]);
  expect(sheetOf([{ cents12: 0.3 }, { cents12: 0 }]).answers).toEqual([]);
});
