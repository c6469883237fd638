/**
 * Do the intervals of group comparisons hold, and how often is a difference or a likeness claimed wrongly?
 * `nice -n 19 node --import tsx test/studies/groups.ts [SHOPS]`
 *
 * SHOPS simulated shops (default 200) of each kind, from known truth, no two groups truly different but by what is said. Prints a
 * Markdown table: the part of 95 % intervals that hold the true difference of rises, the part of shops that claim a difference (5 %
 * where there is none), and the part that claim likeness within the margin (at most 5 % where the difference is the margin).
 */
import { riseShape } from '../../src/acoustics/frets.ts';
import type { BlockSums } from '../../src/sources/block-sums.ts';
import { compareGroups, type CompareOptions } from '../../src/trend/compare-groups.ts';
import type { Group } from '../../src/trend/groups.ts';
import { type ShopPlan, simulateShop, type SimulatedShop, usualShop } from '../../src/trend/simulate-shop.ts';

const shops = Number(process.argv[2] ?? 200);

interface Kind {
  readonly plan: ShopPlan;
  readonly groups: (sums: BlockSums) => Group[];
  /** Cents of rise added to the blocks of the first group, and the truth of first less second beside them. */
  readonly isFirst: (sums: BlockSums, block: number) => boolean;
  readonly difference: number;
  readonly truth?: (shop: SimulatedShop) => number;
  readonly options?: CompareOptions;
}

const modelOf = (sums: BlockSums, block: number): number => sums.modelOfInstrument[sums.blockInstrument[block]!]!;
const alike: ShopPlan = {
  ...usualShop,
  passes: 1,
  rise: { ...usualShop.rise, model: 0, modelString: 0 },
  nut: { mean: 0.5, model: 0 },
};
const mean = (values: readonly number[]): number => values.reduce((sum, one) => sum + one, 0) / values.length;
const twoModels = (instrumentsPerModel: number): Omit<Kind, 'difference'> => ({
  plan: { ...alike, models: 2, instrumentsPerModel },
  groups: () => [1, 2].map((at) => ({ name: `${at}`, models: [`Model ${at}`] })),
  isFirst: (sums, block) => modelOf(sums, block) === 0,
});
const fourOfEach: Omit<Kind, 'difference'> = {
  plan: { ...usualShop, passes: 1, models: 8, instrumentsPerModel: 5 },
  groups: ({ models }) => [
    { name: 'one', models: models.slice(0, 4) },
    { name: 'other', models: models.slice(4) },
  ],
  isFirst: (sums, block) => modelOf(sums, block) < 4,
};
const beforeAfter: Omit<Kind, 'difference'> = {
  plan: { ...usualShop, models: 2, instrumentsPerModel: 6 },
  groups: () => [
    { name: 'before', passes: [0] },
    { name: 'after', passes: [1] },
  ],
  isFirst: (sums, block) => sums.blockPass[block] === 0,
};
const kinds: Record<string, Kind> = {
  'two models of 6, alike': { ...twoModels(6), difference: 0 },
  'two models of 12, alike': { ...twoModels(12), difference: 0 },
  'two models of 12, heavy tails (t, 3 df)': {
    ...twoModels(12),
    plan: { ...twoModels(12).plan, tails: 3 },
    difference: 0,
  },
  'two models of 12, 3 cents apart': { ...twoModels(12), difference: 3 },
  'four models of each kind, these models': {
    ...fourOfEach,
    difference: 0,
    truth: ({ rise }) => mean(rise.slice(0, 4).flat()) - mean(rise.slice(4).flat()),
  },
  'four models of each kind, models like these': {
    ...fourOfEach,
    difference: 0,
    options: { reach: 'models like these' },
  },
  'before and after on 12 instruments, alike': { ...beforeAfter, difference: 0 },
  'before and after on 12 instruments, 3 cents apart': { ...beforeAfter, difference: 3 },
};

const percent = (part: number): string => `${(100 * part).toFixed(1)} %`;
console.log(`${shops} shops of each kind; margin 3 cents\n`);
console.log('| groups | intervals that hold | a difference claimed | likeness claimed |');
console.log('|---|---|---|---|');
for (const [at, [name, { plan, groups, isFirst, difference, truth, options = {} }]] of Object.entries(
  kinds,
).entries()) {
  const counts = { held: 0, different: 0, alike: 0 };
  for (let shop = 0; shop < shops; shop++) {
    const made = simulateShop(701 + at + 1000 * shop, plan);
    const cellMean = made.sums.cellMean.slice();
    for (let block = 0; block < made.sums.blockString.length; block++)
      if (isFirst(made.sums, block))
        for (let cell = made.sums.blockStart[block]!; cell < made.sums.blockStart[block + 1]!; cell++)
          cellMean[cell]! += difference * riseShape(made.sums.cellFret[cell]!);
    const sums = { ...made.sums, cellMean };
    const [contrast] = compareGroups(sums, groups(sums), { method: 'holm', ...options }).contrasts;
    const target = difference + (truth?.(made) ?? 0);
    counts.held += Number(contrast!.difference.low <= target && target <= contrast!.difference.high);
    counts.different += Number(contrast!.adjustedP < 0.05);
    counts.alike += Number(contrast!.equivalence.adjustedP < 0.05);
  }
  const [held, different, likeness] = [counts.held, counts.different, counts.alike].map((count) =>
    percent(count / shops),
  );
  console.log(`| ${name} | ${held!} | ${different!} | ${likeness!} |`);
}
