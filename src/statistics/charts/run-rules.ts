import type { ChartLimits } from './individuals.ts';

/**
 * The Western Electric rules, by the numbers of the NIST/SEMATECH e-Handbook, section 6.3.2: 1, a value beyond three sigma; 2, two
 * of three in a row beyond two sigma; 3, four of five in a row beyond one sigma; 4, eight in a row on one side of the centre. The
 * values of a rule all lie on the same side.
 */
export type RunRule = 1 | 2 | 3 | 4;

/** In words, what each rule has seen. */
export const runRuleWords: Readonly<Record<RunRule, string>> = {
  1: 'one beyond three sigma',
  2: 'two of three beyond two sigma',
  3: 'four of five beyond one sigma',
  4: 'eight in a row on one side',
};

/** A rule that is met by a value and those before it. */
export interface RunSignal {
  /** Place of the value that completes the run, from 0. */
  readonly at: number;
  readonly rule: RunRule;
  /** The side of the centre line that the run is on. */
  readonly side: 'high' | 'low';
}

/** Of how many in a row how many must lie beyond how many sigma. */
const rules: Readonly<Record<RunRule, { readonly of: number; readonly needed: number; readonly beyond: number }>> = {
  1: { of: 1, needed: 1, beyond: 3 },
  2: { of: 3, needed: 2, beyond: 2 },
  3: { of: 5, needed: 4, beyond: 1 },
  4: { of: 8, needed: 8, beyond: 0 },
};

/**
 * Where run rules are met, in order of time. Each value is looked at anew: a run that goes on signals at every value, and a value
 * that completes a run must itself lie beyond the rule's line.
 *
 * @param values in order of time
 * @param chosen rules to apply; the more, the more false alarms (see `averageRunLength`)
 * @see Western Electric Company (1956), Statistical Quality Control Handbook
 */
export function runSignals(
  values: readonly number[],
  { centre, sigma }: Pick<ChartLimits, 'centre' | 'sigma'>,
  chosen: readonly RunRule[] = [1, 2, 3, 4],
): RunSignal[] {
  return values.flatMap((_, at) =>
    chosen.flatMap((rule) =>
      ([1, -1] as const).flatMap((sign): RunSignal[] => {
        const { of, needed, beyond } = rules[rule];
        const lies = (value: number): boolean => sign * (value - centre) > beyond * sigma;
        if (!lies(values[at]!)) return [];
        const count = values.slice(Math.max(0, at + 1 - of), at + 1).filter(lies).length;
        return count >= needed ? [{ at, rule, side: sign > 0 ? 'high' : 'low' }] : [];
      }),
    ),
  );
}
