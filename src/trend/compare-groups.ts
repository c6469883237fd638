import type { BlockSums } from '../sources/block-sums.ts';
import { halfWidth, twoSidedP } from '../statistics/distributions.ts';
import { requireMargin, testEquivalence } from '../statistics/equivalence.ts';
import type { Combination, RandomPart } from '../statistics/mixed/combine.ts';
import { type FamilyOptions, holm, judgeTogether } from '../statistics/multiplicity.ts';
import type { Estimate } from './trend.ts';
import { fitGroups, type GroupFit, modelParts, nutTerm, riseTerm } from './group-fit.ts';
import { comparisonNotes, contrastSentence } from './group-words.ts';
import { type FoundGroup, findGroups, type Group } from './groups.ts';

/**
 * What a comparison speaks of: the models that were read, as they are; or models like them, of which those read are a sample
 * (two placements, each on several models). The latter counts the spread between models into every error.
 */
export type Reach = 'these models' | 'models like these';

export interface CompareOptions {
  /** The largest difference in cents that does not matter to the ear; default 3. */
  readonly marginCents?: number;
  /** Default `these models`. */
  readonly reach?: Reach;
  /** Rises over all strings that both groups have, their mean (default), or string by string. */
  readonly by?: 'mean' | 'string';
  /** Every group against every other (default), or all others against the first. */
  readonly pairs?: 'all' | 'against first';
  /** How the family's error rate is held; default the joint distribution of the largest |t|. */
  readonly method?: FamilyOptions['method'];
}

/**
 * - `differ audibly`: the simultaneous interval lies wholly beyond the margin
 * - `differ inaudibly`: a difference is shown, and so is that it lies within the margin
 * - `alike`: shown to lie within the margin, no difference shown
 * - `open`: the readings cannot tell yet
 */
export type GroupVerdict = 'differ audibly' | 'differ inaudibly' | 'alike' | 'open';

/** One group less another, in cents. */
export interface GroupContrast {
  readonly quantity: 'rise' | 'nut';
  readonly one: string;
  readonly other: string;
  /** Strings whose mean rise is compared. */
  readonly strings: readonly number[];
  /** `one` less `other`, with its own 95 % interval. */
  readonly difference: Estimate;
  readonly p: number;
  /** p and 95 % interval with all contrasts of the quantity judged together. */
  readonly adjustedP: number;
  readonly simultaneousLow: number;
  readonly simultaneousHigh: number;
  /** The difference, and the ends of its 95 % interval, over the standard deviation between instruments. Null for a nut. */
  readonly standardised: { readonly estimate: number; readonly low: number; readonly high: number } | null;
  /** Two one-sided tests against the margin: p, p adjusted over the family (Holm), and the 90 % interval. */
  readonly equivalence: { readonly p: number; readonly adjustedP: number; readonly low: number; readonly high: number };
  readonly verdict: GroupVerdict;
  /** The verdict in words, with its numbers. */
  readonly sentence: string;
}

/** A group's own mean rise over its strings, in cents. */
export interface GroupMean {
  readonly name: string;
  readonly models: readonly string[];
  readonly instruments: number;
  readonly strings: readonly number[];
  readonly rise: Estimate;
}

export interface GroupComparison {
  readonly marginCents: number;
  readonly reach: Reach;
  readonly groups: readonly GroupMean[];
  readonly contrasts: readonly GroupContrast[];
  /** Plain sentences on what the differences contain and what could not be told. */
  readonly notes: readonly string[];
}

/**
 * Compares the rises, and where low frets tell them apart the nut offsets, of groups of readings: models, sets of models of one
 * placement, string sets, gauges or windings, before and after.
 *
 * Groups have fixed means by string in one mixed model of all readings (see `fitGroups`); contrasts come from its joint
 * covariance with Satterthwaite's degrees of freedom, all of a quantity are judged together (`judgeTogether`), and equivalence is
 * shown by two one-sided tests (Schuirmann 1987) against the margin.
 *
 * The default margin, 3 cents, is under published thresholds: amateurs tell the size of a melodic interval apart by about 10 cents
 * (Hill & Summers 2007, J. Acoust. Soc. Am. 121, 2376-2383), and beats of one a second, which an experienced player hears, are
 * 8 cents at A3 (Anderson & Beausoleil, "Classical Guitar Intonation and Compensation").
 *
 * @throws {RangeError} when the margin is not positive, when groups are not in the log, overlap or have fewer than 3
 * instruments, or when `models like these` is asked and no group has more than one model
 */
export function compareGroups(
  sums: BlockSums,
  wanted: readonly Group[],
  { marginCents = 3, reach = 'these models', by = 'mean', pairs = 'all', method = 'single-step' }: CompareOptions = {},
): GroupComparison {
  requireMargin(marginCents);
  const fitted = fitGroups(sums, findGroups(sums, wanted));
  const { groups } = fitted.grouping;
  if (reach === 'models like these' && !fitted.parts.identified.models)
    throw new RangeError(
      'Cannot speak of models like these: no group has more than one model, so the spread between models cannot be told; ' +
        'compare "these models", or give groups of several models',
    );
  const asked: Asked[] = [];
  for (let one = 0; one < groups.length; one++)
    for (let other = one + 1; other < groups.length; other++)
      if (pairs === 'all' || one === 0)
        for (const strings of stringSets(groups[one]!, groups[other]!, by))
          asked.push({ quantity: 'rise', one, other, strings });
  if (fitted.parts.nutByGroup)
    for (const { one, other } of [...asked])
      if (!asked.some((a) => a.quantity === 'nut' && a.one === one && a.other === other))
        asked.push({ quantity: 'nut', one, other, strings: [] });
  // One call for all, since every call works out how the errors hang on the variances.
  const combinations = [
    ...groups.map((group, at) => riseOf(fitted, at, group.strings, reach)),
    ...asked.map((contrast) => contrastOf(fitted, contrast, reach)),
  ];
  const combined = fitted.fit.combine(combinations);
  const factor = fitted.weights.varianceFactor;
  const estimates = combined.estimates.map(({ estimate, standardError, df }) =>
    estimateOf(estimate, standardError * Math.sqrt(factor), df),
  );
  const contrasts = (['rise', 'nut'] as const).flatMap((quantity) => {
    const at = asked.flatMap((one, place) => (one.quantity === quantity ? [place] : []));
    return judge(
      fitted,
      at.map((place) => ({ ...asked[place]!, difference: estimates[groups.length + place]! })),
      {
        covariance: at.map((a) => at.map((b) => combined.covariance[groups.length + a]![groups.length + b]! * factor)),
        marginCents,
        method,
      },
    );
  });
  return {
    marginCents,
    reach,
    groups: groups.map((group, at) => ({
      name: group.name,
      models: group.models.map((model) => sums.models[model]!),
      instruments: group.instruments.size,
      strings: group.strings,
      rise: estimates[at]!,
    })),
    contrasts,
    notes: comparisonNotes(fitted, contrasts, { reach, marginCents }),
  };
}

/** A contrast asked for, groups by index. */
interface Asked {
  readonly quantity: 'rise' | 'nut';
  readonly one: number;
  readonly other: number;
  readonly strings: readonly number[];
}

/** The strings that two groups have in common, as one set or each alone; all of both where they have none. */
function stringSets(one: FoundGroup, other: FoundGroup, by: 'mean' | 'string'): number[][] {
  const common = one.strings.filter((string) => other.strings.includes(string));
  if (common.length === 0) return [[]];
  return by === 'mean' ? [common] : common.map((string) => [string]);
}

function contrastOf(fitted: GroupFit, { quantity, one, other, strings }: Asked, reach: Reach): Combination {
  const { groups } = fitted.grouping;
  const of = (group: number): Combination =>
    quantity === 'nut'
      ? nutOf(fitted, group, reach)
      : riseOf(fitted, group, strings.length > 0 ? strings : groups[group]!.strings, reach);
  return minus(of(one), of(other));
}

function riseOf(fitted: GroupFit, group: number, strings: readonly number[], reach: Reach): Combination {
  const { sums, grouping, parts } = fitted;
  const fixed = Object.fromEntries(strings.map((string) => [riseTerm(group, string), 1 / strings.length]));
  if (reach === 'models like these') return { fixed };
  const pairs = new Set<string>();
  grouping.ofBlock.forEach((of, block) => {
    const model = sums.modelOfInstrument[sums.blockInstrument[block]!]!;
    if (of === group) pairs.add(`${model}:${sums.blockString[block]!}`);
  });
  const has = (model: number, string: number): boolean => pairs.has(`${model}:${string}`);
  return { fixed, random: modelParts(grouping.groups[group]!.models, strings, parts.identified, has).random ?? [] };
}

function nutOf({ grouping, parts }: GroupFit, group: number, reach: Reach): Combination {
  const fixed = { [nutTerm(group)]: 1 };
  if (reach === 'models like these' || !parts.identified.nutByModel) return { fixed };
  const { models } = grouping.groups[group]!;
  const random = models.map((model): RandomPart => ({
    group: ['model'],
    level: [model],
    effect: 'nut',
    coefficient: 1 / models.length,
  }));
  return { fixed, random };
}

function minus(one: Combination, other: Combination): Combination {
  const fixed: Record<string, number> = { ...one.fixed };
  for (const [term, value] of Object.entries(other.fixed ?? {})) fixed[term] = (fixed[term] ?? 0) - value;
  const random = [
    ...(one.random ?? []),
    ...(other.random ?? []).map((part) => ({ ...part, coefficient: -(part.coefficient ?? 1) })),
  ];
  return { fixed, random };
}

function estimateOf(estimate: number, standardError: number, df: number): Estimate {
  const reach = halfWidth(0.95, df) * standardError;
  return { estimate, standardError, df, low: estimate - reach, high: estimate + reach };
}

/** Level of a finding: of a difference, and of being alike. */
const alpha = 0.05;

function judge(
  fitted: GroupFit,
  asked: readonly (Asked & { readonly difference: Estimate })[],
  {
    covariance,
    marginCents,
    method,
  }: {
    readonly covariance: readonly (readonly number[])[];
    readonly marginCents: number;
    readonly method: FamilyOptions['method'];
  },
): GroupContrast[] {
  if (asked.length === 0) return [];
  const { groups } = fitted.grouping;
  const p = asked.map(({ difference }) => twoSidedP(difference.estimate / difference.standardError, difference.df));
  const together = judgeTogether(
    { estimates: asked.map(({ difference }, at) => ({ label: `${at}`, ...difference, p: p[at]! })), covariance },
    { method, level: 1 - alpha },
  );
  const tests = asked.map(({ difference }) => testEquivalence(difference, marginCents, alpha));
  const adjusted = holm(tests.map((test) => test.p));
  return asked.map(({ quantity, one, other, strings, difference }, at): GroupContrast => {
    const { adjustedP, low, high } = together[at]!;
    const isAlike = adjusted[at]! < alpha;
    const verdict: GroupVerdict =
      low > marginCents || high < -marginCents
        ? 'differ audibly'
        : isAlike
          ? adjustedP < alpha
            ? 'differ inaudibly'
            : 'alike'
          : 'open';
    const sd = betweenInstruments(fitted, strings.length || groups[one]!.strings.length);
    const standardised =
      quantity === 'rise' && sd > 0
        ? { estimate: difference.estimate / sd, low: difference.low / sd, high: difference.high / sd }
        : null;
    const contrast = {
      quantity,
      one: groups[one]!.name,
      other: groups[other]!.name,
      strings,
      difference,
      p: p[at]!,
      adjustedP,
      simultaneousLow: low,
      simultaneousHigh: high,
      standardised,
      equivalence: { p: tests[at]!.p, adjustedP: adjusted[at]!, low: tests[at]!.low, high: tests[at]!.high },
      verdict,
    };
    return { ...contrast, sentence: contrastSentence(contrast, { marginCents, together: asked.length }) };
  });
}

/** Standard deviation between instruments of a group in their mean rise over so many strings, in cents. */
export function betweenInstruments({ spread }: Pick<GroupFit, 'spread'>, strings: number): number {
  return Math.hypot(spread.instrumentRise, spread.stringRise / Math.sqrt(strings));
}
