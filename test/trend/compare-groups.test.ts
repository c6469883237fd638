import { table } from 'arquero';
import { expect, test } from 'vitest';
import { kappa, riseShape } from '../../src/acoustics/frets.ts';
import { readModels } from '../../src/logs/models.ts';
import { type BlockSums, sumReadings } from '../../src/sources/block-sums.ts';
import { fitMixed } from '../../src/statistics/mixed/fit-mixed.ts';
import { compareGroups, type CompareOptions, type GroupComparison } from '../../src/trend/compare-groups.ts';
import { projectSaddle } from '../../src/trend/contrast-rows.ts';
import { groupModel, partsOf, riseTerm } from '../../src/trend/group-fit.ts';
import { findGroups, type Group, placementGroups } from '../../src/trend/groups.ts';
import { equalWeights } from '../../src/trend/robust-weights.ts';
import { type ShopPlan, simulateShop, usualShop } from '../../src/trend/simulate-shop.ts';

const small: ShopPlan = { ...usualShop, models: 3, instrumentsPerModel: 8, strings: 4, passes: 1 };
const model = (at: number): Group => ({ name: `M${at}`, models: [`Model ${at}`] });

/** The sums with `cents(block, fret)` added to every reading. */
function plus(sums: BlockSums, cents: (block: number, fret: number) => number): BlockSums {
  const cellMean = sums.cellMean.slice();
  for (let block = 0; block < sums.blockString.length; block++)
    for (let cell = sums.blockStart[block]!; cell < sums.blockStart[block + 1]!; cell++)
      cellMean[cell]! += cents(block, sums.cellFret[cell]!);
  return { ...sums, cellMean };
}
const modelOf = (sums: BlockSums, block: number): number => sums.modelOfInstrument[sums.blockInstrument[block]!]!;
const riseOf = ({ contrasts }: GroupComparison, at = 0): GroupComparison['contrasts'][number] =>
  contrasts.filter(({ quantity }) => quantity === 'rise')[at]!;
const nutOf = ({ contrasts }: GroupComparison): GroupComparison['contrasts'][number] =>
  contrasts.find(({ quantity }) => quantity === 'nut')!;

// Student (1908), Biometrika 6, 1-25: hours of sleep gained by ten patients under two drugs; R's data set `sleep`.
const first = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0, 2];
const second = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];

/** The hours as rises of one string: t = hours; the 12th reads what it likes. */
function sleepers(instrument: (at: number, drug: 0 | 1) => string): BlockSums {
  const rows = ([first, second] as const).flatMap((hours, drug) =>
    hours.flatMap((t, at) => {
      const cents12 = ((at * 7) % 5) - 2;
      const common = { instrument: instrument(at, drug as 0 | 1), model: 'M', string: 1, pass: drug };
      return [
        { ...common, fret: 12, cents: cents12 },
        { ...common, fret: 17, cents: t + kappa * cents12 },
      ];
    }),
  );
  const names = ['instrument', 'model', 'string', 'pass', 'fret', 'cents'] as const;
  return sumReadings(table(Object.fromEntries(names.map((name) => [name, rows.map((row) => row[name])]))));
}

// R 4.2.2, t.test on `sleep`: paired t = -4.0621277, 9 df; pooled variances t = -1.8608135, 18 df; mean difference -1.58.
test.each([
  ['the paired t test where instruments are in both groups', (at: number) => `I${at}`, -4.0621277, 9],
  [
    'the t test with pooled variances where they are not',
    (at: number, drug: 0 | 1) => `I${at}-${drug}`,
    -1.8608135,
    18,
  ],
] as const)('groupModel at equal weights gives %s', (_name, instrument, t, df) => {
  const sums = sleepers(instrument);
  const grouping = findGroups(sums, [
    { name: 'before', passes: [0] },
    { name: 'after', passes: [1] },
  ]);
  const parts = partsOf(sums, grouping);
  const { root } = equalWeights(sums);
  const { columns, description } = groupModel(sums, projectSaddle(sums), { grouping, parts, root });
  const [found] = fitMixed(columns, description).combine([
    { fixed: { [riseTerm(0, 1)]: 1, [riseTerm(1, 1)]: -1 } },
  ]).estimates;
  expect(found!.estimate).toBeCloseTo(-1.58, 8);
  expect(found!.t).toBeCloseTo(t, 5);
  expect(found!.df).toBeCloseTo(df, 2);
});

// Seeded simulation from known truth: 12 models, the first six 2 cents above what they were, of one placement.
test('compareGroups recovers the difference of two placements, and counts models when it speaks of models like these', () => {
  const { sums, rise } = simulateShop(31, { ...small, models: 8, instrumentsPerModel: 5 });
  const planted = plus(sums, (block, fret) => (modelOf(sums, block) < 4 ? 2 * riseShape(fret) : 0));
  const groups: Group[] = [
    { name: 'near', models: sums.models.slice(0, 4) },
    { name: 'far', models: sums.models.slice(4) },
  ];
  const mean = (models: readonly (readonly number[])[]): number =>
    models.flat().reduce((sum, one) => sum + one, 0) / models.flat().length;
  const truth = 2 + mean(rise.slice(0, 4)) - mean(rise.slice(4));
  const these = riseOf(compareGroups(planted, groups));
  const like = riseOf(compareGroups(planted, groups, { reach: 'models like these' }));
  expect(Math.abs(these.difference.estimate - truth)).toBeLessThan(3 * these.difference.standardError);
  // The models' own means deviate from those of all models by 1 cent each: sqrt(2 / 4) in the difference of means of four.
  expect(Math.abs(like.difference.estimate - 2)).toBeLessThan(3 * like.difference.standardError);
  expect(like.difference.standardError).toBeGreaterThan(these.difference.standardError);
  expect(like.difference.df).toBeLessThan(8);
});

test('placementGroups groups the models that were read by the placement that models.csv names', () => {
  const { models } = readModels(
    'model,scale_mm,strings,frets,saddles,placement\nFern,648,2,22,1|2,equal\nMoss,648,2,22,1|2,eighteen\nReed,640,2,22,1|2,equal\nSedge,640,2,22,1|2,just',
    'models.csv',
  );
  expect(placementGroups(models, { models: ['Reed', 'Moss', 'Fern'] })).toEqual([
    { name: 'equal', models: ['Fern', 'Reed'] },
    { name: 'eighteen', models: ['Moss'] },
  ]);
});

test('compareGroups calls models of one truth alike, and models 6 cents apart audibly different', () => {
  const alike: ShopPlan = { ...small, rise: { ...small.rise, model: 0, modelString: 0 }, nut: { mean: 0.5, model: 0 } };
  const { sums } = simulateShop(32, alike);
  const apart = plus(sums, (block, fret) => (modelOf(sums, block) === 2 ? 6 * riseShape(fret) : 0));
  const { contrasts } = compareGroups(apart, [model(1), model(2), model(3)]);
  const verdicts = contrasts.filter(({ quantity }) => quantity === 'rise').map(({ verdict }) => verdict);
  expect(verdicts).toEqual(['alike', 'differ audibly', 'differ audibly']);
  const [, wide] = contrasts;
  expect(Math.abs(wide!.difference.estimate + 6)).toBeLessThan(4 * wide!.difference.standardError);
  expect(wide!.sentence).toMatch(
    /^M1 and M3 differ audibly: M1 less M3 −[56]\.\d cents of rise \(95 %, all judged together, −\d\.\d to −\d\.\d, \d\.\d times the standard deviation between instruments\), all of it beyond ±3 cents\.$/,
  );
});

test('compareGroups cannot tell with a fine margin what it tells with a wide one', () => {
  const { sums } = simulateShop(33, { ...small, rise: { ...small.rise, model: 0, modelString: 0 } });
  const verdict = (marginCents: number): string =>
    riseOf(compareGroups(sums, [model(1), model(2)], { marginCents })).verdict;
  expect(verdict(0.1)).toBe('open');
  expect(verdict(5)).toBe('alike');
});

// Identities: a constant is a nut offset; u(n) is a rise; with the 12th and 17th alone the constant is (1 - kappa) of rise.
test('compareGroups tells a nut offset from a rise where every group is read at low frets', () => {
  const { sums } = simulateShop(34, { ...small, manyFretsEvery: 2 });
  const shifted = plus(sums, (block, fret) => (modelOf(sums, block) === 0 ? 0.5 + 1.5 * riseShape(fret) : 0));
  const [before, after] = [sums, shifted].map((one) => compareGroups(one, [model(1), model(2)]));
  // Weights start from the nut offset of the whole shop and settle to a hundredth: what is left is small beside the errors.
  for (const [of, shift] of [
    [riseOf, 1.5],
    [nutOf, 0.5],
  ] as const) {
    const [was, is] = [of(before!).difference, of(after!).difference];
    expect(Math.abs(is.estimate - was.estimate - shift)).toBeLessThan(0.02 * was.standardError);
  }
});

test('compareGroups at the 12th and 17th alone takes a nut offset of +0.5 for -0.33 of rise, and says so', () => {
  const { sums } = simulateShop(35, { ...small, manyFretsEvery: 0 });
  const shifted = plus(sums, (block) => (modelOf(sums, block) === 0 ? 0.5 : 0));
  const [before, after] = [sums, shifted].map((one) => compareGroups(one, [model(1), model(2)]));
  expect(riseOf(after!).difference.estimate - riseOf(before!).difference.estimate).toBeCloseTo(0.5 * (1 - kappa), 4);
  expect(nutOf(after!)).toBeUndefined();
  expect(after!.notes).toContain(
    'With the 12th and the 17th alone a difference of rises contains -0.67 times the difference of nut offsets.',
  );
});

// An identity: judged together no contrast gains, and its own interval lies within the simultaneous one.
test.each(['single-step', 'holm', 'sidak'] as const)(
  'compareGroups by %s judges three contrasts more strictly than one',
  (method) => {
    const { sums } = simulateShop(36, small);
    const options: CompareOptions = { method };
    const alone = riseOf(compareGroups(sums, [model(1), model(2)], options));
    const { contrasts } = compareGroups(sums, [model(1), model(2), model(3)], options);
    for (const { p, adjustedP, difference, simultaneousLow, simultaneousHigh } of contrasts) {
      expect(adjustedP).toBeGreaterThanOrEqual(p);
      expect(simultaneousLow).toBeLessThan(difference.low);
      expect(simultaneousHigh).toBeGreaterThan(difference.high);
    }
    expect(alone.adjustedP).toBeCloseTo(alone.p, 2);
  },
);

test('compareGroups compares string by string, on the strings that both groups have', () => {
  const { sums } = simulateShop(37, small);
  const groups: Group[] = [model(1), { ...model(2), strings: [2, 3] }];
  const { contrasts } = compareGroups(sums, groups, { by: 'string' });
  expect(contrasts.filter(({ quantity }) => quantity === 'rise').map(({ strings }) => strings)).toEqual([[2], [3]]);
});

test('compareGroups compares windings, gauges and instruments', () => {
  const { sums } = simulateShop(38, { ...small, models: 1, instrumentsPerModel: 12, manyFretsEvery: 0 });
  const wound = Float64Array.from(sums.blockInstrument, (instrument) => instrument % 2);
  const gaugeMm = wound.map((isWound) => (isWound === 1 ? 0.66 : 0.41));
  const strung = plus(
    { ...sums, blockCovariates: { wound, gaugeMm } },
    (block, fret) => (wound[block] === 1 ? -4 : 0) * riseShape(fret),
  );
  const by: [Group, Group][] = [
    [
      { name: 'plain', winding: 'plain' },
      { name: 'wound', winding: 'wound' },
    ],
    [
      { name: 'plain', gaugeMm: [0, 0.5] },
      { name: 'wound', gaugeMm: [0.5, 1] },
    ],
    [
      { name: 'plain', instruments: sums.instruments.filter((_, at) => at % 2 === 0) },
      { name: 'wound', instruments: sums.instruments.filter((_, at) => at % 2 === 1) },
    ],
  ];
  const found = by.map((groups) => riseOf(compareGroups(strung, groups)).difference);
  for (const { estimate, standardError } of found) expect(Math.abs(estimate - 4)).toBeLessThan(4 * standardError);
  // 0.016 in is 0.41 mm.
  for (const [smallest, largest] of [
    [0.015, 0.017],
    [0.5, 0],
  ] as const)
    expect(() => compareGroups(strung, [{ name: 'thin', gaugeMm: [smallest, largest] }, by[1]![1]])).toThrow(
      new RangeError(
        `Cannot compare "thin": the log has no gauge from ${smallest} to ${largest} mm; it has 0.41 to 0.66 mm`,
      ),
    );
  const models = 'Some groups have no model in common: whatever else sets their models apart is in the difference.';
  expect(compareGroups(strung, by[0]!).notes.some((note) => note.endsWith(models))).toBe(false);
  for (const other of found.slice(1)) expect(other.estimate).toBeCloseTo(found[0]!.estimate, 6);
});

test('compareGroups compares instruments with themselves, before and after', () => {
  const { sums } = simulateShop(39, { ...small, models: 1, passes: 2, manyFretsEvery: 0, instrumentRise: 3 });
  const dressed = plus(sums, (block, fret) => (sums.blockPass[block] === 1 ? -1 : 0) * riseShape(fret));
  const comparison = compareGroups(dressed, [
    { name: 'before', passes: [0] },
    { name: 'after', passes: [1] },
  ]);
  const { difference } = riseOf(comparison);
  expect(Math.abs(difference.estimate - 1)).toBeLessThan(4 * difference.standardError);
  // Were the groups different instruments, b alone would make the error sqrt(2 / 8) 3 = 1.5.
  expect(difference.standardError).toBeLessThan(0.75);
  expect(comparison.notes).toContain(
    'Some instruments have readings in several groups; they are compared with themselves.',
  );
});

test.each<[string, Group[], CompareOptions, string]>([
  [
    'a model that is not in the log',
    [model(1), { name: 'B', models: ['Model 9'] }],
    {},
    'Cannot compare "B": the log has no model "Model 9"; it has Model 1, Model 2, Model 3',
  ],
  [
    'a pass that is not in the log',
    [
      { name: 'A', passes: [0] },
      { name: 'B', passes: [4] },
    ],
    {},
    'Cannot compare "B": the log has no pass "4"; it has 0',
  ],
  [
    'an instrument that is not in the log',
    [model(1), { name: 'B', instruments: ['J7'] }],
    {},
    'Cannot compare "B": the log has no instrument "J7"; it has I1, I2, I3, I4, I5, I6, I7, I8, I9, I10, I11, I12, I13, I14, I15, I16, I17, I18, I19, I20 and 4 more',
  ],
  [
    'windings that nobody wrote down',
    [model(1), { name: 'B', winding: 'wound' }],
    {},
    'Cannot compare "B": the log has no column "winding" with plain or wound',
  ],
  [
    'two instruments',
    [model(1), { name: 'B', instruments: ['I2', 'I5'] }],
    {},
    'Cannot compare "B": 2 instruments are read there at two frets on one pass, one of them above the 12th; expected at least 3, better 6',
  ],
  [
    'groups that share readings',
    [model(1), { name: 'all' }],
    {},
    'Cannot compare "M1" and "all": instrument I1, string 1, pass 0 is in both; expected groups without readings in common',
  ],
  ['one group', [model(1)], {}, 'Cannot compare 1 group; expected at least 2'],
  [
    'one name for two groups',
    [model(1), { ...model(2), name: 'M1' }],
    {},
    'Cannot compare two groups named "M1"; give each its own name',
  ],
  [
    'a margin of 0',
    [model(1), model(2)],
    { marginCents: 0 },
    'Cannot call groups alike within a margin of 0; expected a number above 0, the largest difference that does not matter',
  ],
  [
    'models like one model',
    [model(1), model(2), model(3)],
    { reach: 'models like these' },
    'Cannot speak of models like these: no group has more than one model, so the spread between models cannot be told; compare "these models", or give groups of several models',
  ],
])('compareGroups refuses %s', (_name, groups, options, message) => {
  const { sums } = simulateShop(40, small);
  expect(() => compareGroups(sums, groups, options)).toThrow(new RangeError(message));
});

test('compareGroups says when groups have no model in common', () => {
  const { sums } = simulateShop(42, small);
  const wound = Float64Array.from(sums.blockInstrument, (_, block) => Number(modelOf(sums, block) === 1));
  const groups: Group[] = [
    { name: 'plain', strings: [3], winding: 'plain' },
    { name: 'wound', strings: [3], winding: 'wound' },
  ];
  expect(compareGroups({ ...sums, blockCovariates: { wound } }, groups).notes).toContain(
    'Speaks of the models that were read, every one counted alike; another model of the same kind may differ. Some groups have no model in common: whatever else sets their models apart is in the difference.',
  );
});

test('compareGroups says when a hand cannot be told from a group', () => {
  const { sums } = simulateShop(41, { ...small, models: 2, technicians: 2 });
  const cellTechnician = sums.cellTechnician.slice();
  for (let block = 0; block < sums.blockString.length; block++)
    cellTechnician.fill(modelOf(sums, block), sums.blockStart[block], sums.blockStart[block + 1]);
  const { notes } = compareGroups({ ...sums, cellTechnician }, [model(1), model(2)]);
  expect(notes).toContain(
    "The technicians' hands are not told apart: where they read different groups, their hands are in the difference.",
  );
});
