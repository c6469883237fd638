import { expect, test } from 'vitest';
import { kappa } from '../../src/acoustics/frets.ts';
import {
  closedFormPower,
  instrumentsNeeded,
  instrumentVariance,
  simulatePower,
  studyLike,
  type StudyPlan,
} from '../../src/trend/power.ts';

const plan: StudyPlan = studyLike(
  { spread: { instrumentRise: 0.6, stringRise: 0.7, stringNut: 0, reading: 0.5 } },
  { strings: 3 },
);

/** A plan whose instruments' mean rises have variance 1, all of it theirs. */
const unit: StudyPlan = { ...plan, instrumentRise: 1, stringRise: 0, stringNut: 0, reading: 0 };

// R 4.2.2: power.t.test(n = 20, delta = 1, sd = 1, strict = TRUE) gives 0.868953028.
test("closedFormPower agrees with R's power.t.test for instruments of standard deviation 1", () => {
  expect(instrumentVariance(unit)).toBe(1);
  expect(closedFormPower(20, unit, { kind: 'difference', differenceCents: 1 })).toBeCloseTo(0.868953028, 5);
});

// From the reading-level model: t = e17 - kappa e12 has variance (1 + kappa^2) sigma^2.
test('instrumentVariance adds what a string and a reading contribute, over strings', () => {
  expect(instrumentVariance(plan)).toBeCloseTo(0.36 + (0.49 + (1 + kappa ** 2) * 0.25) / 3, 12);
});

// The closed form holds for a balanced study of one pass; 150 studies fix a power of 0.8 to 0.065 (2 standard errors), and the
// robust weights cost about a twentieth of the information on clean data, which is 0.03 of power here.
test('simulatePower agrees with the closed form for a balanced study', () => {
  const instruments = 10;
  const difference = { kind: 'difference', differenceCents: 1.3 } as const;
  const found = simulatePower(instruments, plan, difference, { studies: 150, seed: 5 });
  expect(found.closedForm).toBe(closedFormPower(instruments, plan, difference));
  expect(found.closedForm).toBeGreaterThan(found.low);
  expect(found.closedForm).toBeLessThan(found.high + 0.03);
}, 120_000);

test('simulatePower finds a difference where there is none in about one study of twenty', () => {
  const { low, high } = simulatePower(8, plan, { kind: 'difference', differenceCents: 0 }, { studies: 120, seed: 3 });
  expect(low).toBeLessThan(0.05);
  expect(high).toBeGreaterThan(0.05);
}, 120_000);

test('instrumentsNeeded gives a number whose simulated power reaches what was wanted, and says it in words', () => {
  const wantedPower = 0.8;
  const need = instrumentsNeeded(plan, { kind: 'equivalence', marginCents: 2 }, { wantedPower, studies: 40 });
  expect(need.tried.at(-1)!.power).toBeGreaterThanOrEqual(wantedPower);
  expect(need.instruments).toBe(need.tried.at(-1)!.instruments);
  expect(need.sentence).toMatch(
    /^To show that two groups are alike within 2 cents, read \d+ instruments of each group: \d+ % of simulated studies did \(95 %, \d+ % to \d+ %\)\.$/,
  );
}, 120_000);

// Sixty hands that differ by 6 cents read so few instruments each that none can be taken out; the closed form knows of no hands.
test('instrumentsNeeded says where no size that was tried is enough', () => {
  const manyHands = { ...plan, technicians: 60, hand: 6 };
  const need = instrumentsNeeded(manyHands, { kind: 'difference', differenceCents: 1.3 }, { studies: 5 });
  expect(need.tried.every(({ power }) => power < 0.8)).toBe(true);
  expect(need.sentence).toMatch(
    /^To find a difference of 1\.3 cents of mean rise, \d+ instruments of each group are not enough: \d+ % of simulated studies did \(95 %, \d+ % to \d+ %\), wanted 80 %\. Read with fewer hands, or ask for less\.$/,
  );
}, 120_000);

test('instrumentsNeeded refuses what no study can show', () => {
  expect(() => instrumentsNeeded(plan, { kind: 'difference', differenceCents: 0.05 })).toThrow(
    'Cannot plan this study: it would need more than 400 instruments a group; ask for a larger difference or margin',
  );
  expect(() => instrumentsNeeded(plan, { kind: 'difference', differenceCents: 0 })).toThrow(
    'Cannot find a difference of 0 cents; expected how large a difference must not be missed',
  );
  expect(() => instrumentsNeeded(plan, { kind: 'equivalence', marginCents: 2, differenceCents: 2 })).toThrow(
    'Cannot show that groups are alike within 2 cents when they differ by 2; expected less',
  );
  expect(() => instrumentsNeeded(plan, { kind: 'equivalence', marginCents: -1 })).toThrow(
    'Cannot call groups alike within a margin of -1;',
  );
  expect(() => simulatePower(2, plan, { kind: 'difference', differenceCents: 1 })).toThrow(
    'Cannot study groups of 2 instruments; expected at least 3, since a spread must be told',
  );
  for (const wantedPower of [0, 1, 80, NaN])
    expect(() => instrumentsNeeded(plan, { kind: 'difference', differenceCents: 1 }, { wantedPower })).toThrow(
      `Cannot plan for a power of ${wantedPower}; expected a part between 0 and 1, such as 0.8`,
    );
  const one = { kind: 'difference', differenceCents: 1 } as const;
  expect(() => simulatePower(3.5, plan, one)).toThrow(
    'Cannot simulate 3.5 instruments; expected a whole number from 1',
  );
  expect(() => simulatePower(5, plan, one, { studies: 0 })).toThrow(
    'Cannot simulate 0 studies; expected a whole number from 1',
  );
  expect(() => simulatePower(5, plan, { ...one, differenceCents: NaN })).toThrow(
    'Cannot simulate a difference of NaN cents; expected a number',
  );
});
