import { combine, labelColumn, numericColumn } from './columns.ts';
import type { Columns, RandomTerm } from './description.ts';

/**
 * One grouping factor with all its random effects, `size` a level. Effects that may be correlated share a `block`
 * number. `values[e]` holds effect e row by row, null being the random intercept.
 */
export interface Grouping {
  readonly name: string;
  readonly columns: readonly string[];
  readonly labels: readonly string[];
  readonly codes: Int32Array;
  readonly effects: readonly string[];
  readonly values: readonly (Float64Array | null)[];
  readonly block: readonly number[];
  /** Sorted positions of the grouping columns as first named, to read labels given in another order. */
  readonly size: number;
}

/**
 * The grouping factors of the random part, terms with the same grouping columns merged, the one with most levels first.
 *
 * @throws {RangeError} when a column is missing or unusable, a term is empty, or an effect is listed twice in a term
 */
export function randomDesign(columns: Columns, terms: readonly RandomTerm[], length: number): Grouping[] {
  const merged = new Map<string, { columns: readonly string[]; effects: string[]; block: number[]; blocks: number }>();
  for (const term of terms) {
    if (term.group.length === 0 || term.effects.length === 0)
      throw new RangeError('Cannot use a random term without a grouping column or without an effect; expected both');
    if (new Set(term.effects).size < term.effects.length)
      throw new RangeError(
        `Cannot use the random effects ${term.effects.join(', ')} of ${term.group.join(':')}: one is listed twice`,
      );
    const key = JSON.stringify([...term.group].sort());
    let entry = merged.get(key);
    if (!entry) merged.set(key, (entry = { columns: term.group, effects: [], block: [], blocks: 0 }));
    for (const effect of term.effects) {
      if (entry.effects.includes(effect))
        throw new RangeError(
          `Cannot use the random effect ${effect} of ${term.group.join(':')} twice; its two variances could not be told apart`,
        );
      entry.effects.push(effect);
      entry.block.push(entry.blocks);
      if (term.covariance === 'independent') entry.blocks++;
    }
    if (term.covariance !== 'independent') entry.blocks++;
  }
  const groupings = [...merged.values()].map(({ columns: names, effects, block }): Grouping => {
    const coded = combine(names.map((name) => labelColumn(columns, name, 'a grouping', length)));
    return {
      name: names.join(':'),
      columns: names,
      labels: coded.labels,
      codes: coded.codes,
      effects,
      values: effects.map((effect) =>
        effect === '1' ? null : numericColumn(columns, effect, 'a random effect', length),
      ),
      block,
      size: effects.length,
    };
  });
  return groupings.sort((a, b) => b.labels.length - a.labels.length);
}
