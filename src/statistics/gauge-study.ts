import {
  gaugeAnova,
  type GaugeAnova,
  type GaugeAnovaOptions,
  type GaugeReadings,
  type GaugeSource,
  type VarianceEstimate,
} from './gauge-anova.ts';
import type { MixedDescription } from './mixed/description.ts';
import { fitMixed } from './mixed/fit-mixed.ts';
import { profileIntervals } from './mixed/profile-intervals.ts';

/** The step in which readings were written down, and whether it lets their scatter be seen. */
export interface Resolution {
  /** Largest of 1, 2, 5 times a power of ten of which all readings are whole multiples; 0 where there is none. */
  readonly step: number;
  /** Whether the step is more than 2 repeatability standard deviations: then repeats mostly read alike, and the scatter is not known. */
  readonly isCoarse: boolean;
}

/** What of the scatter of readings comes from the parts, what from those who read them, what from reading again. */
export interface GaugeStudy {
  readonly readings: number;
  readonly parts: number;
  readonly operators: number;
  /** Readings beyond the first of an operator on a part: what repeatability is known from. */
  readonly repeats: number;
  /** Estimates by REML; null where the layout cannot tell, and `notes` says why. */
  readonly components: Readonly<Record<GaugeSource, VarianceEstimate | null>>;
  /** The same by the analysis of variance, where the layout is balanced. */
  readonly anova: GaugeAnova | null;
  readonly resolution: Resolution;
  /** Number of groups of parts that the gauge tells apart, `sqrt(2) sd(part) / sd(gauge)`, to be rounded down; null if unknown. */
  readonly distinctCategories: number | null;
  /** Sentences on what the layout could not tell. */
  readonly notes: readonly string[];
}

/**
 * Gauge study: `reading = mean + part + operator + part by operator + repeat`, all random, by REML ({@link fitMixed}), with
 * the analysis of variance beside it where the layout is balanced.
 *
 * Intervals of part, operator, interaction and repeatability are profile-likelihood ones; those of their sums are put together
 * from these, `sum -/+ sqrt(sum of squared distances to the limits)` (MOVER: Zou 2008, Stat. Med. 27, 1693; from memory).
 * Any layout will do that has repeats; without readings of one part by two operators there is no interaction to estimate.
 *
 * @throws {RangeError} when no operator read a part twice, when there are fewer than two parts, or columns differ in length
 */
export function gaugeStudy(readings: GaugeReadings, options: GaugeAnovaOptions = {}): GaugeStudy {
  const { level = 0.95 } = options;
  const values = Array.from(readings.values);
  const { operators, parts } = readings;
  if (operators.length !== values.length || parts.length !== values.length)
    throw new RangeError(
      `Cannot study ${values.length} readings with ${operators.length} operators and ${parts.length} parts; expected one of each a reading`,
    );
  const cells = new Set(values.map((_, row) => JSON.stringify([parts[row], operators[row]])));
  const counts = { parts: new Set(parts).size, operators: new Set(operators).size };
  const repeats = values.length - cells.size;
  if (repeats < 2 || counts.parts < 2)
    throw new RangeError(
      `Cannot tell the scatter of readings from ${values.length} readings of ${counts.parts} parts with ${repeats} repeats; expected two parts or more, read twice or more by one operator`,
    );
  const notes: string[] = [];
  const hasOperators = counts.operators > 1;
  // Where every part has one operator, part and part by operator are the same grouping.
  const hasInteraction = hasOperators && cells.size > counts.parts;
  if (!hasOperators) notes.push('One operator read everything: how operators differ is not known.');
  else if (!hasInteraction)
    notes.push(
      'No part was read by two operators: how they differ is told from the averages of different parts, and an interaction is not known.',
    );
  if (counts.operators === 2 || counts.operators === 3)
    notes.push(`${counts.operators} operators tell little of how operators differ in general: see the interval.`);
  const components = remlComponents(readings, { hasOperators, hasInteraction, level });
  const anova = gaugeAnova(readings, options);
  const { part, gauge, repeatability } = components;
  const step = readingStep(values);
  const resolution = { step, isCoarse: step ** 2 > 4 * repeatability.variance };
  if (resolution.isCoarse)
    notes.push(
      `Readings were written in steps of ${step}, more than twice their scatter: repeats read alike, and the true scatter may be larger or smaller.`,
    );
  return {
    readings: values.length,
    ...counts,
    repeats,
    components,
    anova,
    resolution,
    distinctCategories: gauge === null ? null : Math.sqrt((2 * part.variance) / gauge.variance),
    notes,
  };
}

interface Layout {
  readonly hasOperators: boolean;
  readonly hasInteraction: boolean;
  readonly level: number;
}

function remlComponents({ values, operators, parts }: GaugeReadings, { hasOperators, hasInteraction, level }: Layout) {
  const columns = { value: values, operator: operators, part: parts };
  const groups = [['part'], ...(hasOperators ? [['operator']] : []), ...(hasInteraction ? [['part', 'operator']] : [])];
  const description: MixedDescription = {
    response: 'value',
    fixed: [],
    random: groups.map((group) => ({ group, effects: ['1'] })),
  };
  const fit = fitMixed(columns, description);
  const intervals = profileIntervals(columns, description, level);
  const estimate = (deviation: number, group: string): VarianceEstimate => {
    const found = intervals.find((one) =>
      group === '' ? one.kind === 'sigma' : one.kind === 'standard deviation' && one.group === group,
    )!;
    return { variance: deviation ** 2, low: found.low ** 2, high: found.high ** 2 };
  };
  const between = (group: string): VarianceEstimate | null => {
    const found = fit.random.find((one) => one.group === group);
    return found ? estimate(found.standardDeviations[0]!, group) : null;
  };
  const [part, operator, interaction] = [between('part')!, between('operator'), between('part:operator')];
  const repeatability = estimate(fit.sigma, '');
  const reproducibility = operator && sumOf(interaction ? [operator, interaction] : [operator]);
  const gauge = operator && sumOf([operator, ...(interaction ? [interaction] : []), repeatability]);
  const total = operator && sumOf([part, operator, ...(interaction ? [interaction] : []), repeatability]);
  return { part, operator, interaction, repeatability, reproducibility, gauge, total };
}

/** A sum of variances, its interval put together from theirs. */
function sumOf(terms: readonly VarianceEstimate[]): VarianceEstimate {
  const variance = terms.reduce((sum, term) => sum + term.variance, 0);
  const distance = (of: (term: VarianceEstimate) => number): number =>
    Math.sqrt(terms.reduce((sum, term) => sum + Math.max(0, of(term)) ** 2, 0));
  return {
    variance,
    low: Math.max(0, variance - distance((term) => term.variance - term.low)),
    high: variance + distance((term) => term.high - term.variance),
  };
}

/**
 * The step in which values were written: the largest of 1, 2 and 5 times a power of ten, from 50 down to 1e-6, of which all are
 * whole multiples; 0 where none is, or where all values are 0.
 */
export function readingStep(values: readonly number[]): number {
  if (values.every((value) => value === 0)) return 0;
  for (let power = 1; power >= -6; power--)
    for (const digit of [5, 2, 1]) {
      const step = Number(`${digit}e${power}`);
      if (values.every((value) => Math.abs(value / step - Math.round(value / step)) < 1e-6)) return step;
    }
  return 0;
}
