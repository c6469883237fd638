import { expect, test } from 'vitest';
import type { Setup } from '../../src/acoustics/fretting.ts';
import { kappa, riseShape, saddleLeverage } from '../../src/acoustics/frets.ts';
import { ratioPlacement, ruleOfEighteen } from '../../src/acoustics/placement.ts';
import type { BlockSums } from '../../src/sources/block-sums.ts';
import { fitLinear } from '../../src/statistics/least-squares.ts';
import { type Cause, physicalCauses, pressingHarder } from '../../src/trend/causes.ts';
import { type CausePart, type Decomposition, decomposeRise } from '../../src/trend/decompose.ts';
import { riseOfShape } from '../../src/trend/cause-sources.ts';
import { causeParts, less, projected, shapeOf } from '../../src/trend/decompose-model.ts';
import { simulateShop, usualShop } from '../../src/trend/simulate-shop.ts';
import { type CausePlan, simulateCauses, usualCauses } from '../../src/trend/simulate-causes.ts';
import { inventedStrings } from './invented-strings.ts';

const strings = inventedStrings();
const causes = physicalCauses(strings);
const plan: CausePlan = { ...usualCauses, instruments: 8 };
const partOf = ({ parts }: Pick<Decomposition, 'parts'>, cause: string): CausePart =>
  parts.find((part) => part.cause === cause)!;

// Seeded simulation from known truth, causes half as large again as predicted.
test('decomposeRise recovers nut, stretch and rest that were planted, and their sum', () => {
  const planted = causes.map((cause) => ({ cause, size: 1.5 }));
  const { sums, model, rise } = simulateCauses(3, { ...plan, nutCents: 1, rest: { mean: 2, string: 0.3 }, planted });
  const found = decomposeRise(sums, { model, causes });
  for (const [cause, truth] of rise) {
    const { estimate, standardError } = partOf(found, cause).rise;
    expect(Math.abs(estimate - truth)).toBeLessThan(3.5 * standardError);
  }
  expect(Math.abs(partOf(found, 'stretch').size!.estimate - 1.5)).toBeLessThan(
    3.5 * partOf(found, 'stretch').size!.standardError,
  );
  expect(partOf(found, 'stretch').size!.standardError).toBeLessThan(0.2);
  const truth = [...rise.values()].reduce((sum, one) => sum + one, 0);
  expect(Math.abs(found.total.estimate - truth)).toBeLessThan(3.5 * found.total.standardError);
});

// An identity: parts are shares of one fit, and add up.
test('decomposeRise gives parts that add up to the whole rise, on every string too', () => {
  const { sums, model } = simulateCauses(4, { ...plan, planted: causes.map((cause) => ({ cause, size: 1 })) });
  const { parts, total } = decomposeRise(sums, {
    model,
    causes: physicalCauses(strings, { stiffness: 'as predicted' }),
  });
  expect(parts.reduce((sum, { rise }) => sum + rise.estimate, 0)).toBeCloseTo(total.estimate, 8);
  for (const { rise, byString } of parts)
    expect(byString.reduce((sum, one) => sum + one.rise.estimate, 0) / byString.length).toBeCloseTo(rise.estimate, 8);
});

// To first order a string straight from nut to saddle, stopped at the fret itself, is stretched by h^2 / 2 (1/x + 1/l): with no
// height at the nut h is proportional to x, and x / l = 2^(n/12) - 1 = g(n), the shape of a saddle.
test('decomposeRise can tell no part of the stretch of a straight string without height at the nut', () => {
  const straight = strings.map(({ setup, ...string }) => ({
    ...string,
    setup: { ...setup, nutHeightMm: 0, reliefMm: 0, fingerBehindMm: 0, fingerDepthMm: 0 },
  }));
  const [stretch] = physicalCauses(straight);
  for (const string of [1, 3, 6])
    for (const fret of [1, 5, 17, 21])
      expect(stretch!.shape(string, fret) / stretch!.shape(string, 12)).toBeCloseTo(saddleLeverage(fret), 1);
  const { sums, model } = simulateCauses(5, plan);
  const found = decomposeRise(sums, { model, causes: [stretch!] });
  expect(partOf(found, 'stretch').besideSaddle).toBeLessThan(0.001);
  expect(found.notes.some((note) => /^stretch: .* taken up by where the saddle stands/.test(note))).toBe(true);
});

test('decomposeRise says that stiffness is taken up by where the saddle stands', () => {
  const { sums, model } = simulateCauses(6, { ...plan, planted: causes.map((cause) => ({ cause, size: 1 })) });
  const found = decomposeRise(sums, { model, causes });
  expect(partOf(found, 'stiffness').besideSaddle).toBeLessThan(0.001);
  expect(
    found.notes.some((note) => note.startsWith('stiffness: less than 0.1 % of its shape is not that of a saddle')),
  ).toBe(true);
});

// An identity: moving every saddle adds b g(n) to a block and changes no part of the rise.
test('decomposeRise does not change when every saddle is moved', () => {
  const { sums, model } = simulateCauses(7, plan);
  const cents = sums.cellMean.slice();
  for (let block = 0; block < sums.blockString.length; block++)
    for (let cell = sums.blockStart[block]!; cell < sums.blockStart[block + 1]!; cell++)
      cents[cell]! += ((block % 7) - 3) * saddleLeverage(sums.cellFret[cell]!);
  const [before, after] = [sums, { ...sums, cellMean: cents }].map((one) => decomposeRise(one, { model, causes }));
  for (const { cause, rise } of before!.parts)
    expect(partOf(after!, cause).rise.estimate).toBeCloseTo(rise.estimate, 6);
});

test('decomposeRise puts a rise that no cause has the shape of into the rest', () => {
  const { sums, model } = simulateCauses(8, { ...plan, planted: causes.map((cause) => ({ cause, size: 1 })) });
  const bent = less(sums, shapeOf(sums, { shape: (_string, fret) => -3 * riseShape(fret) }));
  const [before, after] = [sums, bent].map((one) => decomposeRise(one, { model, causes }));
  expect(partOf(after!, 'rest').rise.estimate - partOf(before!, 'rest').rise.estimate).toBeCloseTo(3, 3);
  expect(partOf(after!, 'stretch').rise.estimate).toBeCloseTo(partOf(before!, 'stretch').rise.estimate, 3);
});

test('decomposeRise tells the rule of eighteen from what else acts, and takes a cause as predicted when asked', () => {
  const eighteen = physicalCauses(inventedStrings(ratioPlacement(648, 22, ruleOfEighteen)));
  const planted = eighteen.map((cause) => ({ cause, size: 1 }));
  const { sums, model, rise } = simulateCauses(9, { ...plan, planted });
  const told = partOf(decomposeRise(sums, { model, causes: eighteen }), 'placement');
  expect(Math.abs(told.rise.estimate - rise.get('placement')!)).toBeLessThan(3.5 * told.rise.standardError);
  const taken = decomposeRise(sums, {
    model,
    causes: physicalCauses(inventedStrings(ratioPlacement(648, 22, ruleOfEighteen)), { placement: 'as predicted' }),
  });
  // 12.54 cents flat at the 12th, DESIGN section 3: 1200 log2(18/17) = 98.9546 a fret, so (17 - 12 kappa) (98.9546 - 100) of rise.
  const each = 1200 * Math.log2(18 / 17) - 100;
  expect(partOf(taken, 'placement').rise.estimate).toBeCloseTo((17 - 12 * kappa) * each, 8);
  expect(partOf(taken, 'placement').size).toBeNull();
  expect(taken.notes).toContain('placement: +3.2 cents, taken as predicted and not told from the readings.');
});

test('decomposeRise names causes that only their sum is known of', () => {
  const { sums, model } = simulateCauses(10, plan);
  const [stretch] = causes;
  // The same shape but for a hundredth of it.
  const twin: Cause = {
    ...stretch!,
    name: 'twin',
    shape: (string, fret) => stretch!.shape(string, fret) * (1 + 0.01 * (fret % 2)),
  };
  const found = decomposeRise(sums, { model, causes: [stretch!, twin] });
  expect(partOf(found, 'stretch').inflation).toBeGreaterThan(10);
  expect(found.condition).toBeGreaterThan(10);
  const both = found.together.find(({ causes: pair }) => pair.includes('stretch') && pair.includes('twin'))!;
  expect(both.rise.standardError).toBeLessThan(0.5 * partOf(found, 'twin').rise.standardError);
  expect(found.notes.some((note) => note.startsWith('stretch and twin together: '))).toBe(true);
});

test('decomposeRise drops a cause whose shape is a sum of others, and says so', () => {
  const { sums, model } = simulateCauses(11, plan);
  const [stretch] = causes;
  const found = decomposeRise(sums, { model, causes: [stretch!, { ...stretch!, name: 'twin' }] });
  expect(found.notes).toContain('twin: not told at all, since its shape is a sum of other shapes at the frets read.');
});

test('decomposeRise takes one instrument apart, with wider intervals than its model', () => {
  const { sums, model, rise } = simulateCauses(12, { ...plan, planted: causes.map((cause) => ({ cause, size: 1 })) });
  const whole = decomposeRise(sums, { model, causes });
  const one = decomposeRise(sums, { model, causes, instruments: ['I3'] });
  expect(one.instruments).toBe(1);
  expect(one.of).toBe('I3');
  const stretch = partOf(one, 'stretch').rise;
  expect(stretch.standardError).toBeGreaterThan(partOf(whole, 'stretch').rise.standardError);
  expect(Math.abs(stretch.estimate - rise.get('stretch')!)).toBeLessThan(4 * stretch.standardError);
});

test("decomposeRise tells technicians' hands apart where each read several instruments", () => {
  const { sums, model } = simulateCauses(13, { ...plan, instruments: 12, technicians: 2 });
  const heavier = sums.cellMean.map(
    (cents, cell) => cents + (sums.cellTechnician[cell] === 0 ? 2 : 0) * riseShape(sums.cellFret[cell]!),
  );
  const [before, after] = [sums, { ...sums, cellMean: heavier }].map((one) => decomposeRise(one, { model, causes }));
  expect(after!.hands).toHaveLength(2);
  after!.hands.forEach(({ rise }, at) => {
    const change = rise.estimate - before!.hands[at]!.rise.estimate;
    // Against the mean hand, 2 cents more of one are +1 and -1; names are in the order of the sums.
    expect(change).toBeCloseTo(at === 0 ? 1 : -1, 2);
  });
});

// A fret alone is no shape of any cause: least squares spreads part of the 1 cent over its neighbours and leaves the rest there.
test('decomposeRise points at a fret that stands off, and at none where frets stand true', () => {
  const { sums, model } = simulateCauses(17, {
    ...plan,
    instruments: 12,
    planted: causes.map((cause) => ({ cause, size: 1 })),
  });
  const off = less(sums, shapeOf(sums, { shape: (_string, fret) => (fret === 17 ? -1 : 0) }));
  const [before, after] = [sums, off].map((one) => decomposeRise(one, { model, causes }));
  expect(before!.left.map(({ fret }) => fret)).toEqual([1, 3, 5, 7, 9, 12, 14, 15, 17, 19, 21]);
  expect(before!.left.filter(({ adjustedP }) => adjustedP < 0.05)).toEqual([]);
  expect(before!.notes).toContain('Fret by fret, the readings show nothing beyond chance that the causes leave out.');
  const most = after!.left.reduce((a, b) => (b.adjustedP < a.adjustedP ? b : a));
  expect(most.fret).toBe(17);
  expect(most.adjustedP).toBeLessThan(0.01);
  expect(most.cents).toBeGreaterThan(0.3);
  expect(
    after!.notes.some((note) => /^The causes do not account for frets? .*17 \(\+0\.\d cents left\)/.test(note)),
  ).toBe(true);
});

// With the saddle's leverage as a column of its own for every block, least squares gives what projection gives (Frisch, Waugh and
// Lovell; Frisch & Waugh 1933, Econometrica 1, 387-401).
test('projected shapes give the coefficients of least squares with a saddle of its own in every block', () => {
  const { sums } = simulateCauses(14, { ...plan, instruments: 3, strings: 2 });
  const parts = causeParts(sums, [causes[0]!]);
  const one = new Float64Array(sums.cellFret.length).fill(1);
  const blocks = [...sums.blockString.keys()];
  const saddles = blocks.map((block) =>
    Float64Array.from(sums.cellFret, (fret, cell) =>
      cell >= sums.blockStart[block]! && cell < sums.blockStart[block + 1]! ? saddleLeverage(fret) : 0,
    ),
  );
  const names = ['nut', 'stretch'];
  const whole = fitLinear({
    response: sums.cellMean,
    names: [...names, ...blocks.map((block) => `saddle ${block}`)],
    columns: [one, parts.shapes[0]!, ...saddles],
  });
  const inRows = fitLinear({
    response: projected(sums, sums.cellMean, Infinity),
    names,
    columns: [projected(sums, one, Infinity), projected(sums, parts.shapes[0]!, Infinity)],
  });
  names.forEach((_, at) => {
    expect(inRows.coefficients[at]!.estimate).toBeCloseTo(whole.coefficients[at]!.estimate, 8);
    expect(inRows.coefficients[at]!.standardError).toBeCloseTo(whole.coefficients[at]!.standardError, 8);
  });
});

test('pressingHarder asks where and how deep the finger presses already', () => {
  const [first] = strings;
  for (const unsaid of [{ fingerBehindMm: 0 }, { fingerDepthMm: undefined }])
    expect(() => pressingHarder([{ ...first!, setup: { ...first!.setup, ...unsaid } as Setup }])).toThrow(
      new RangeError(
        'Cannot press harder on string 1, whose setup says not how hard it is pressed; expected fingerDepthMm, and fingerBehindMm above 0',
      ),
    );
});

test('pressingHarder raises every fret, most at the first', () => {
  const harder = pressingHarder(strings);
  for (const string of [1, 6])
    for (const fret of [3, 12, 17]) {
      expect(harder.shape(string, fret)).toBeGreaterThan(0);
      expect(harder.shape(string, 1)).toBeGreaterThan(harder.shape(string, fret));
    }
});

// riseOfShape is t of the shape: a constant of 1 cent makes 1 - kappa, u(n) makes 1, a saddle nothing.
test('riseOfShape is t = cents17 - kappa cents12', () => {
  expect(riseOfShape({ shape: () => 1 }, 1)).toBeCloseTo(1 - kappa, 14);
  expect(riseOfShape({ shape: (_s, fret) => riseShape(fret) }, 1)).toBe(1);
  expect(riseOfShape({ shape: (_s, fret) => saddleLeverage(fret) }, 1)).toBeCloseTo(0, 14);
});

const refused = (change: (sums: BlockSums, model: string) => Parameters<typeof decomposeRise>): (() => unknown) => {
  const { sums, model } = simulateCauses(15, plan);
  return () => decomposeRise(...change(sums, model));
};
test.each<[string, () => unknown, string]>([
  [
    'a model that is not in the log',
    refused((sums) => [sums, { model: 'Fern', causes }]),
    'Cannot take "Fern" apart: the log has no such model; it has Model 1',
  ],
  [
    'an instrument that is not of the model',
    refused((sums, model) => [sums, { model, causes, instruments: ['J1'] }]),
    'Cannot take "J1" apart: it is no Model 1 in the log; there are I1, I2, I3, I4, I5, I6, I7, I8',
  ],
  [
    'two causes of one name',
    refused((sums, model) => [sums, { model, causes: [...causes, causes[0]!] }]),
    'Cannot tell two causes named "stretch" apart; give each its own name',
  ],
  [
    'readings at the 12th and the 17th alone',
    () => {
      const { sums } = simulateShop(16, { ...usualShop, models: 1, manyFretsEvery: 0 });
      return decomposeRise(sums, { model: 'Model 1', causes });
    },
    'Cannot take the rise of Model 1 apart: no string was read at more than 2 frets on one pass; expected 5 or more, such as 1, 3, 5, 7, 9, 12, 15, 17 and 19, on a few instruments',
  ],
  [
    'a fret that the placement lacks',
    refused((sums, model) => [
      sums,
      { model, causes: physicalCauses(inventedStrings(ratioPlacement(648, 20, ruleOfEighteen))) },
    ]),
    'Cannot predict string 1 at fret 21; expected strings 1 to 6 and frets from 1 to 20',
  ],
])('decomposeRise refuses %s', (_name, act, message) => {
  expect(act).toThrow(new RangeError(message));
});
