import { mean } from '../statistics/location-scale.ts';
import { halfWidth } from '../statistics/distributions.ts';
import type { Backtest, Realised, TestedInstrument } from './backtest.ts';
import { rulesOfThumb, type RuleOfThumb } from './rules-of-thumb.ts';

/** The standard against one rule of thumb on the same instruments, in cents. */
export interface Comparison {
  readonly rule: RuleOfThumb;
  readonly instruments: number;
  readonly standardMean: number;
  readonly ruleMean: number;
  /**
   * Mean over instruments of standard less rule, with the 95 % interval of the paired t; below 0 the standard does better.
   * The interval is unbounded with one instrument.
   */
  readonly difference: number;
  readonly low: number;
  readonly high: number;
  /** Instruments on which the standard leaves less, more, or within `tiedCents` the same. */
  readonly won: number;
  readonly lost: number;
  readonly tied: number;
}

/** What two policies leave on an instrument counts as the same when it differs by less than this many cents. */
export const tiedCents = 0.01;

/** An instrument read at so many frets or more tells of the neck, not only of the two frets that the saddle is set by. */
const manyFrets = 5;

/** Ways to see a backtest: a measure, over all instruments tried or those that were read along the neck. */
export const views = ['frets read', 'many frets', '12th and 17th', 'error', 'cost'] as const;
export type View = (typeof views)[number];

const viewed: Record<View, { readonly measure: keyof Realised; readonly fewestFrets: number }> = {
  'frets read': { measure: 'audible', fewestFrets: 2 },
  'many frets': { measure: 'audible', fewestFrets: manyFrets },
  '12th and 17th': { measure: 'audible12And17', fewestFrets: 2 },
  error: { measure: 'error', fewestFrets: 2 },
  cost: { measure: 'cost', fewestFrets: 2 },
};

/** Holds the standard against every rule of thumb, in every view; a view that no instrument can be seen in is empty. */
export function comparePolicies(instruments: readonly TestedInstrument[]): Record<View, Comparison[]> {
  return Object.fromEntries(
    views.map((view) => {
      const { measure, fewestFrets } = viewed[view];
      const seen = instruments.filter(({ frets }) => frets >= fewestFrets);
      return [view, seen.length > 0 ? rulesOfThumb.map((rule) => compare(seen, measure, rule)) : []];
    }),
  ) as Record<View, Comparison[]>;
}

function compare(instruments: readonly TestedInstrument[], measure: keyof Realised, rule: RuleOfThumb): Comparison {
  const standard = instruments.map(({ realised }) => realised['this standard'][measure]);
  const byRule = instruments.map(({ realised }) => realised[rule][measure]);
  const differences = standard.map((one, at) => one - byRule[at]!);
  const difference = mean(differences);
  const n = differences.length;
  const variance = differences.reduce((sum, one) => sum + (one - difference) ** 2, 0) / (n - 1);
  const reach = n > 1 ? halfWidth(0.95, n - 1) * Math.sqrt(variance / n) : Infinity;
  const won = differences.filter((one) => one < -tiedCents).length;
  const lost = differences.filter((one) => one > tiedCents).length;
  return {
    rule,
    instruments: n,
    standardMean: mean(standard),
    ruleMean: mean(byRule),
    difference,
    low: difference - reach,
    high: difference + reach,
    won,
    lost,
    tied: n - won - lost,
  };
}

/** The size of a mean in cents, to two decimals, or three where it is under a tenth. */
export function meanCents(cents: number): string {
  const size = Math.abs(cents);
  return size.toFixed(size < 0.0995 ? 3 : 2);
}

const words = (view: View, audibleCents: number): string =>
  ({
    'frets read': `of error beyond ±${audibleCents} cents, over the frets read as they are played`,
    'many frets': `of error beyond ±${audibleCents} cents, over the frets read as they are played`,
    '12th and 17th': `of error beyond ±${audibleCents} cents at the 12th and the 17th`,
    error: 'of root mean square error over the frets read as they are played',
    cost: 'of the cost that the standard is chosen by',
  })[view];

/**
 * What a backtest says, in plain sentences: what every policy leaves, then the standard against each rule. Where an interval
 * holds 0 it says that these instruments show no difference, and where a rule does better, which and by how much.
 */
export function backtestSentences(
  {
    instruments,
    candidates,
    comparisons,
    audibleCents,
  }: Pick<Backtest, 'instruments' | 'candidates' | 'comparisons' | 'audibleCents'>,
  view: View = 'frets read',
): string[] {
  const all = comparisons[view];
  const first = all[0];
  if (!first) return [`No instrument was read at ${viewed[view].fewestFrets} frets or more.`];
  const means = [
    { name: 'this standard', value: first.standardMean },
    ...all.map(({ rule, ruleMean }) => ({ name: rule, value: ruleMean })),
  ];
  const many = view === 'many frets' ? ` read at ${manyFrets} frets or more` : '';
  const sample = instruments.length < candidates ? `, a sample of ${candidates}` : '';
  return [
    `On ${first.instruments} ${first.instruments === 1 ? 'instrument' : 'instruments'}${many}${sample}, each left out when its standard was chosen, mean cents ${words(view, audibleCents)}: ${means.map(({ name, value }) => `${name} ${meanCents(value)}`).join('; ')}.`,
    ...all.map(sentence),
  ];
}

function sentence({ rule, instruments, difference, low, high, won, lost, tied }: Comparison): string {
  const tally = `the standard is better on ${won}, worse on ${lost}, the same on ${tied}`;
  if (instruments < 2) return `Against "${rule}" one instrument shows nothing.`;
  const [least, most] = [Math.min(Math.abs(low), Math.abs(high)), Math.max(Math.abs(low), Math.abs(high))];
  const small = most < tiedCents ? `, under ${tiedCents}: as good as none` : '';
  const interval = `95 % ${meanCents(least)} to ${meanCents(most)}${small}`;
  if (high < 0) return `Against "${rule}" the standard wins by ${meanCents(difference)} cents (${interval}): ${tally}.`;
  if (low > 0)
    return `"${rule}" does better than the standard, by ${meanCents(difference)} cents (${interval}): ${tally}.`;
  return `Against "${rule}" there is no difference that these ${instruments} instruments can show (95 % from ${meanCents(low)} less to ${meanCents(high)} more): ${tally}.`;
}
