import { kappa, riseShape } from '../acoustics/frets.ts';
import type { BlockSums } from '../sources/block-sums.ts';
import { normalQuantile } from '../statistics/distributions.ts';
import { requireMargin } from '../statistics/equivalence.ts';
import { powerOfDifference, powerOfEquivalence } from '../statistics/test-power.ts';
import { compareGroups } from './compare-groups.ts';
import type { Trend } from './trend.ts';
import { fewestOfGroup } from './groups.ts';
import { type ShopPlan, simulateShop, usualShop } from './simulate-shop.ts';

/** What a study of two groups is to show. */
export type Question =
  /** That two groups whose mean rises differ by so many cents do differ. */
  | { readonly kind: 'difference'; readonly differenceCents: number }
  /** That two groups are alike within a margin, while they truly differ by `differenceCents` (default 0). */
  | { readonly kind: 'equivalence'; readonly marginCents: number; readonly differenceCents?: number };

/** How a group of the study is read; see `ShopPlan`. The rest of the plan says how instruments and readings differ. */
export type StudyPlan = Pick<
  ShopPlan,
  | 'strings'
  | 'passes'
  | 'manyFretsEvery'
  | 'instrumentRise'
  | 'stringRise'
  | 'stringNut'
  | 'reading'
  | 'technicians'
  | 'hand'
  | 'tails'
>;

/** The part of simulated studies that showed what was asked. */
export interface SimulatedPower {
  readonly instruments: number;
  readonly studies: number;
  readonly power: number;
  /** 95 % interval for the true power (Wilson's score interval), from the number of studies alone. */
  readonly low: number;
  readonly high: number;
  /** What the closed form says for the 12th and the 17th alone, see {@link closedFormPower}. */
  readonly closedForm: number;
}

export interface SampleSize {
  /** Instruments in each of the two groups; where the last size tried is not enough either, that size. */
  readonly instruments: number;
  readonly wantedPower: number;
  /** Every size that was simulated, the last is the answer. */
  readonly tried: readonly SimulatedPower[];
  /** The answer in words. */
  readonly sentence: string;
}

export interface SimulationOptions {
  /** Studies simulated; default 200, which fixes a power of 0.8 to about 0.06. */
  readonly studies?: number;
  /** Of the first study; each further one adds 1000. Default 1. */
  readonly seed?: number;
  /** Called after every study with the number done. */
  readonly each?: (done: number) => void;
}

/** Most instruments of a group that a study is planned for. */
const mostInstruments = 400;
/** How often a size that proved too small is raised by a tenth. */
const mostRaises = 8;

/** A study read by one technician, whose instruments and readings scatter as a trend found. */
export function studyLike(
  { spread }: Pick<Trend, 'spread'>,
  reading: Partial<Pick<StudyPlan, 'strings' | 'passes' | 'manyFretsEvery'>> = {},
): StudyPlan {
  return { ...usualShop, passes: 1, manyFretsEvery: 0, technicians: 1, hand: 0, ...spread, ...reading };
}

/**
 * Variance of one instrument's mean rise over its strings, read at the 12th and the 17th:
 * `b^2 + (c^2 + (1 - kappa)^2 a^2 + (1 + kappa^2) sigma^2 / passes) / strings`.
 */
export function instrumentVariance({
  instrumentRise,
  stringRise,
  stringNut,
  reading,
  strings,
  passes,
}: StudyPlan): number {
  const ofString = stringRise ** 2 + ((1 - kappa) * stringNut) ** 2 + ((1 + kappa ** 2) * reading ** 2) / passes;
  return instrumentRise ** 2 + ofString / strings;
}

/** Power of a t test of two groups of instruments' mean rises, read at the 12th and the 17th alone: `2 (n - 1)` degrees of freedom. */
export function closedFormPower(instruments: number, plan: StudyPlan, question: Question): number {
  const standardError = Math.sqrt((2 * instrumentVariance(plan)) / instruments);
  const design = { difference: question.differenceCents ?? 0, standardError, df: 2 * (instruments - 1) };
  return question.kind === 'difference' ? powerOfDifference(design) : powerOfEquivalence(design, question.marginCents);
}

/**
 * Simulates studies of two groups from known truth, compares each with `compareGroups`, and counts those that show what was asked
 * at 5 %. With a difference of 0 it is the part of studies that find one where there is none; at the margin, the part that
 * wrongly call groups alike.
 *
 * @throws {RangeError} with fewer than 3 instruments a group or a broken number of them, no study, a difference that is no number,
 * or a margin that is not positive
 */
export function simulatePower(
  instruments: number,
  plan: StudyPlan,
  question: Question,
  { studies = 200, seed = 1, each = () => undefined }: SimulationOptions = {},
): SimulatedPower {
  if (question.kind === 'equivalence') requireMargin(question.marginCents);
  if (!(instruments >= fewestOfGroup))
    throw new RangeError(
      `Cannot study groups of ${instruments} instruments; expected at least ${fewestOfGroup}, since a spread must be told`,
    );
  for (const [what, count] of Object.entries({ instruments, studies }))
    if (!(Number.isInteger(count) && count > 0))
      throw new RangeError(`Cannot simulate ${count} ${what}; expected a whole number from 1`);
  if (!Number.isFinite(question.differenceCents ?? 0))
    throw new RangeError(`Cannot simulate a difference of ${question.differenceCents} cents; expected a number`);
  let shown = 0;
  for (let study = 0; study < studies; study++) {
    shown += Number(isShown(simulateStudy(seed + 1000 * study, instruments, plan, question), question));
    each(study + 1);
  }
  return {
    instruments,
    studies,
    power: shown / studies,
    ...wilson(shown, studies),
    closedForm: closedFormPower(instruments, plan, question),
  };
}

/**
 * The instruments that each of two groups needs: the closed form says where to begin, simulation whether that is enough, and the
 * number is raised by a tenth until it is, or was raised eight times in vain; the sentence says which.
 *
 * @throws {RangeError} when the wanted power is not between 0 and 1, more than 400 instruments a group would be needed, or a true difference lies at or beyond the margin
 */
export function instrumentsNeeded(
  plan: StudyPlan,
  question: Question,
  { wantedPower = 0.8, ...options }: SimulationOptions & { readonly wantedPower?: number } = {},
): SampleSize {
  if (!(wantedPower > 0 && wantedPower < 1))
    throw new RangeError(`Cannot plan for a power of ${wantedPower}; expected a part between 0 and 1, such as 0.8`);
  if (question.kind === 'equivalence') {
    requireMargin(question.marginCents);
    if (Math.abs(question.differenceCents ?? 0) >= question.marginCents)
      throw new RangeError(
        `Cannot show that groups are alike within ${question.marginCents} cents when they differ by ${question.differenceCents!}; expected less`,
      );
  } else if (!(Math.abs(question.differenceCents) > 0))
    throw new RangeError('Cannot find a difference of 0 cents; expected how large a difference must not be missed');
  let instruments = closedFormSize(plan, question, wantedPower);
  const tried: SimulatedPower[] = [];
  for (;;) {
    const last = simulatePower(instruments, plan, question, options);
    tried.push(last);
    if (last.power >= wantedPower || tried.length > mostRaises) break;
    instruments = Math.max(instruments + 1, Math.round(1.1 * instruments));
  }
  const { power, low, high } = tried.at(-1)!;
  const percent = (part: number): string => `${Math.round(100 * part)} %`;
  const counted = (cents: number): string => `${cents} cent${cents === 1 ? '' : 's'}`;
  const what =
    question.kind === 'difference'
      ? `find a difference of ${counted(question.differenceCents)} of mean rise`
      : `show that two groups are alike within ${counted(question.marginCents)}` +
        (question.differenceCents ? ` when they differ by ${question.differenceCents}` : '');
  return {
    instruments,
    wantedPower,
    tried,
    sentence:
      power >= wantedPower
        ? `To ${what}, read ${instruments} instruments of each group: ${percent(power)} of simulated studies did (95 %, ${percent(low)} to ${percent(high)}).`
        : `To ${what}, ${instruments} instruments of each group are not enough: ${percent(power)} of simulated studies did (95 %, ${percent(low)} to ${percent(high)}), wanted ${percent(wantedPower)}. Read with fewer hands, or ask for less.`,
  };
}

/** The least number of instruments that the closed form finds enough; power grows with it, so by bisection. */
function closedFormSize(plan: StudyPlan, question: Question, wantedPower: number): number {
  const isEnough = (instruments: number): boolean => closedFormPower(instruments, plan, question) >= wantedPower;
  let [few, enough] = [fewestOfGroup - 1, mostInstruments];
  if (!isEnough(enough))
    throw new RangeError(
      `Cannot plan this study: it would need more than ${mostInstruments} instruments a group; ask for a larger difference or margin`,
    );
  while (enough - few > 1) {
    const middle = (few + enough) >> 1;
    if (isEnough(middle)) enough = middle;
    else few = middle;
  }
  return enough;
}

const groupNames = ['Model 1', 'Model 2'] as const;

/** Two models of one truth, the second less by the difference at the 17th. */
function simulateStudy(seed: number, instruments: number, plan: StudyPlan, question: Question): BlockSums {
  const { sums } = simulateShop(seed, {
    ...usualShop,
    ...plan,
    models: groupNames.length,
    instrumentsPerModel: instruments,
    rise: { ...usualShop.rise, model: 0, modelString: 0 },
    nut: { ...usualShop.nut, model: 0 },
    bend: 0,
  });
  const cellMean = sums.cellMean.slice();
  for (let block = 0; block < sums.blockString.length; block++)
    if (sums.modelOfInstrument[sums.blockInstrument[block]!] === 1)
      for (let cell = sums.blockStart[block]!; cell < sums.blockStart[block + 1]!; cell++)
        cellMean[cell]! -= (question.differenceCents ?? 0) * riseShape(sums.cellFret[cell]!);
  return { ...sums, cellMean };
}

function isShown(sums: BlockSums, question: Question): boolean {
  const groups = groupNames.map((name) => ({ name, models: [name] }));
  const options = question.kind === 'equivalence' ? { marginCents: question.marginCents } : {};
  const contrast = compareGroups(sums, groups, { ...options, method: 'holm' }).contrasts.find(
    ({ quantity }) => quantity === 'rise',
  )!;
  return (question.kind === 'difference' ? contrast.p : contrast.equivalence.p) < 0.05;
}

/** Wilson's (1927, J. Am. Stat. Assoc. 22, 209-212) score interval for a proportion, 95 %. */
function wilson(count: number, of: number): { readonly low: number; readonly high: number } {
  const z = normalQuantile(0.975);
  const part = count / of;
  const centre = (part + z ** 2 / (2 * of)) / (1 + z ** 2 / of);
  const reach = (z / (1 + z ** 2 / of)) * Math.sqrt((part * (1 - part)) / of + z ** 2 / (4 * of ** 2));
  return { low: centre - reach, high: centre + reach };
}
