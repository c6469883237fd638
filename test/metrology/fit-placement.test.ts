import { expect, test } from 'vitest';
import { equalPlacement, placedCents, ratioPlacement, ruleOfEighteen } from '../../src/acoustics/placement.ts';
import { type CaliperReading, fitPlacement, type PlacementAssumptions } from '../../src/metrology/fit-placement.ts';
import { normalRandom } from '../../src/statistics/random.ts';

/** Readings of frets at `a + S u(n)`, each fret moved by what `fretMm` says. */
function readingsOf(
  { scaleMm, nutSetbackMm, frets }: { scaleMm: number; nutSetbackMm: number; frets: number },
  fretMm: (fret: number) => number = () => 0,
): CaliperReading[] {
  return equalPlacement(scaleMm, frets)
    .nutToFretMm.map((mm, fret) => ({ fret, nutToFretMm: mm + nutSetbackMm + fretMm(fret) }))
    .slice(1);
}
const truth = { scaleMm: 648, nutSetbackMm: 0.6, frets: 22 };

test('fitPlacement finds scale length and nut of frets that stand where they should', () => {
  const fit = fitPlacement(readingsOf(truth));
  expect(fit.scaleMm.estimate).toBeCloseTo(648, 9);
  expect(fit.nutSetbackMm.estimate).toBeCloseTo(0.6, 9);
  expect(fit.spreadMm).toBeCloseTo(0, 9);
});

test('fitPlacement finds the scale length of a neck laid out by the rule of eighteen, given that rule', () => {
  const { nutToFretMm } = ratioPlacement(630, 19, ruleOfEighteen);
  const readings = nutToFretMm.slice(1).map((mm, at) => ({ fret: at + 1, nutToFretMm: mm }));
  const byRule = fitPlacement(readings, { pattern: ratioPlacement(1, 19, ruleOfEighteen) });
  expect(byRule.scaleMm.estimate).toBeCloseTo(630, 9);
  expect(byRule.spreadMm).toBeCloseTo(0, 9);
  // Taken for equal temperament it would be another scale length, with frets that scatter by more than a caliper errs.
  expect(fitPlacement(readings).spreadMm).toBeGreaterThan(0.05);
});

test('fitPlacement names the one fret that stands wrong, in mm and in cents', () => {
  const random = normalRandom(11);
  const readings = [1, 2, 3].flatMap(() =>
    readingsOf(truth, (fret) => (fret === 9 ? 0.25 : 0)).map(({ fret, nutToFretMm }) => ({
      fret,
      nutToFretMm: nutToFretMm + 0.02 * random(),
    })),
  );
  const { frets, readingSdFrom, readingSdMm } = fitPlacement(readings);
  expect(readingSdFrom).toBe('repeats');
  expect(readingSdMm).toBeCloseTo(0.02, 2);
  const wrong = frets.filter(({ adjustedP }) => adjustedP < 0.001);
  expect(wrong.map(({ fret }) => fret)).toEqual([9]);
  // One of 22 frets pulls the pattern its own way by its leverage, at least 1/22, so that a little less than 0.25 mm is left.
  expect(wrong[0]!.errorMm).toBeCloseTo(0.25 * (1 - 1 / 22), 1);
  // A fret nearer the saddle by e sharpens by 1731.23 e / ln: exactly, the difference of two predictions.
  const { errorMm, cents } = wrong[0]!;
  const placement = equalPlacement(648, 22);
  const moved = {
    ...placement,
    nutToFretMm: placement.nutToFretMm.map((mm, fret) => (fret === 9 ? mm + errorMm : mm)),
  };
  expect(cents).toBeCloseTo(placedCents(9, moved) - placedCents(9, placement), 2);
});

/** Part of `runs` simulated necks whose 95 % intervals hold the truth: of the design, and of each fret's own error. */
function coverage(
  runs: number,
  { fretSd, readingSd, repeats, known }: { fretSd: number; readingSd: number; repeats: number; known?: true },
): { scale: number; nut: number; frets: number } {
  const random = normalRandom(2026);
  const held = { scale: 0, nut: 0, frets: 0 };
  const assumptions: PlacementAssumptions = known ? { readingSdMm: readingSd } : {};
  for (let run = 0; run < runs; run++) {
    const offsets = Array.from({ length: 23 }, () => fretSd * random());
    const ideal = readingsOf(truth, (fret) => offsets[fret]!);
    const read = Array.from({ length: repeats }, () =>
      ideal.map(({ fret, nutToFretMm }) => ({ fret, nutToFretMm: nutToFretMm + readingSd * random() })),
    ).flat();
    const fit = fitPlacement(read, assumptions);
    // The frets' own errors are those about the best pattern through their true positions.
    const trueFrets = fitPlacement(ideal).frets;
    if (fit.scaleMm.low < truth.scaleMm && truth.scaleMm < fit.scaleMm.high) held.scale++;
    if (fit.nutSetbackMm.low < truth.nutSetbackMm && truth.nutSetbackMm < fit.nutSetbackMm.high) held.nut++;
    fit.frets.forEach(({ lowMm, highMm }, at) => {
      const { errorMm } = trueFrets[at]!;
      if (lowMm < errorMm && errorMm < highMm) held.frets++;
    });
  }
  return { scale: held.scale / runs, nut: held.nut / runs, frets: held.frets / runs / truth.frets };
}

// Simulated from known truth. With 1000 necks the standard error of a coverage of 95 % is 0.7 %: four of them are 2.8 %.
test.each([
  ['repeats', { fretSd: 0.05, readingSd: 0.03, repeats: 3 }],
  ['a known reading error', { fretSd: 0.05, readingSd: 0.03, repeats: 1, known: true }],
] as const)('fitPlacement with %s holds scale, nut and every fret in 95 % of its intervals', (_, plan) => {
  const held = coverage(1000, plan);
  for (const part of Object.values(held)) expect(Math.abs(part - 0.95)).toBeLessThan(0.028);
});

test('fitPlacement without repeats judges frets by each other: 5 % of sound ones fall outside', () => {
  const random = normalRandom(5);
  let outside = 0;
  for (let run = 0; run < 500; run++)
    for (const { p } of fitPlacement(readingsOf(truth, () => 0.04 * random())).frets) if (p < 0.05) outside++;
  expect(outside / 500 / 22).toBeGreaterThan(0.04);
  expect(outside / 500 / 22).toBeLessThan(0.06);
  expect(fitPlacement(readingsOf(truth, () => 0.04 * random())).readingSdFrom).toBe('other frets');
});

// Cook & Weisberg, "Residuals and Influence in Regression", section 2.2 (from memory): the residual standard deviation without
// fret i is that of a fit which leaves it out; its residual has 1 - h_i of the variance, h_i = 1/n + (u_i - m)^2 / sum (u - m)^2.
test('fitPlacement without repeats spans each interval by a fit that leaves the fret out', () => {
  const random = normalRandom(8);
  const readings = readingsOf(truth, () => 0.04 * random());
  const part = readings.map(({ fret }) => 1 - 2 ** (-fret / 12));
  const mean = part.reduce((sum, one) => sum + one, 0) / 22;
  const squares = part.reduce((sum, one) => sum + (one - mean) ** 2, 0);
  fitPlacement(readings).frets.forEach(({ fret, lowMm, highMm }, at) => {
    const without = fitPlacement(readings.filter((reading) => reading.fret !== fret));
    const h = 1 / 22 + (part[at]! - mean) ** 2 / squares;
    // Student's t, 97.5 %, 19 degrees of freedom: 2.093 (any table).
    expect((highMm - lowMm) / 2 / (without.spreadMm * Math.sqrt(1 - h))).toBeCloseTo(2.093, 3);
  });
});

test.each<[string, readonly CaliperReading[], PlacementAssumptions, string]>([
  ['no readings', [], {}, 'Cannot fit a placement to 0 different frets; expected at least 4'],
  [
    'three frets read twice',
    [1, 2, 3, 1, 2, 3].map((fret) => ({ fret, nutToFretMm: 36 * fret })),
    {},
    'Cannot fit a placement to 3 different frets; expected at least 4',
  ],
  [
    'a negative position',
    [{ fret: 3, nutToFretMm: -103 }],
    {},
    'Cannot fit fret 3 at -103 mm from the nut; expected more than 0',
  ],
  ['the open string', [{ fret: 0, nutToFretMm: 1 }], {}, 'Cannot fit fret 0; expected a whole number from 1'],
  [
    'a fret that is no number',
    [...readingsOf(truth), { fret: NaN, nutToFretMm: 100 }],
    {},
    'Cannot fit fret NaN; expected a whole number from 1',
  ],
  [
    'half a fret',
    [...readingsOf(truth), { fret: 1.5, nutToFretMm: 50 }],
    {},
    'Cannot fit fret 1.5; expected a whole number from 1',
  ],
  [
    'a fret the pattern lacks',
    readingsOf(truth),
    { pattern: equalPlacement(1, 12) },
    'Cannot fit fret 13; expected a whole number from 1 to 12',
  ],
  [
    'a reading error of zero',
    readingsOf(truth),
    { readingSdMm: 0 },
    'Cannot fit with a reading error of 0 mm; expected more than 0',
  ],
])('fitPlacement refuses %s', (_, readings, assumptions, message) => {
  expect(() => fitPlacement(readings, assumptions)).toThrow(new RangeError(message));
});
