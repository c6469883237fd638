import { kappa, riseShape } from '../acoustics/frets.ts';
import type { BlockSums } from '../sources/block-sums.ts';
import type { Combination } from '../statistics/mixed/combine.ts';
import type { Cause } from './causes.ts';
import { type CauseParts, causeTerm, stringParts } from './decompose-model.ts';
import { technicianTerm } from './trend-model.ts';

/** A cause that is told from the readings: its size, its part of the rise over all strings and on each, as combinations. */
export interface Source {
  readonly name: string;
  readonly unit: string;
  readonly shape: Cause['shape'];
  readonly size: Combination;
  readonly mean: Combination;
  readonly byString: readonly Combination[];
}

/** The nut, every cause told from the readings, and the rest, in this order. */
export function sourcesOf(
  told: readonly Cause[],
  strings: readonly number[],
  { parts, instrument }: { readonly parts: CauseParts; readonly instrument: number },
): Source[] {
  const perString = (kind: 'nut' | 'rise', factor: number): Combination[] =>
    strings.map((string) => ({
      fixed: { [kind]: factor },
      random: stringParts(kind, string, parts, instrument).map((part) => ({ ...part, coefficient: factor })),
    }));
  const source = (
    name: string,
    { unit, shape, term }: { readonly unit: string; readonly shape: Cause['shape']; readonly term: string },
    byString: readonly Combination[],
  ): Source => {
    return {
      name,
      unit,
      shape,
      size: { fixed: { [term]: 1 } },
      mean: sum(byString, 1 / strings.length),
      byString,
    };
  };
  return [
    source('nut', { unit: 'cents at every fret', shape: () => 1, term: 'nut' }, perString('nut', 1 - kappa)),
    ...told.map((cause) =>
      source(
        cause.name,
        { ...cause, term: causeTerm(cause) },
        strings.map((string) => ({ fixed: { [causeTerm(cause)]: riseOfShape(cause, string) } })),
      ),
    ),
    source(
      'rest',
      { unit: 'cents at the 17th fret', shape: (_string, fret) => riseShape(fret), term: 'rise' },
      perString('rise', 1),
    ),
  ];
}

/** Cents of the rise that a size of 1 makes on a string. */
export function riseOfShape({ shape }: Pick<Cause, 'shape'>, string: number): number {
  return shape(string, 17) - kappa * shape(string, 12);
}

/** What a technician's hand adds to the rise against the mean hand. */
export function handCombination(sums: BlockSums, { identified }: CauseParts, technician: number): Combination {
  const last = sums.technicians.length - 1;
  const fixed: Record<string, number> = {};
  for (let other = 0; other < last; other++) {
    const share = technician === last ? -1 : Number(technician === other);
    fixed[technicianTerm('rise', other)] = share;
    if (identified.technicianNuts) fixed[technicianTerm('nut', other)] = (1 - kappa) * share;
  }
  return { fixed };
}

/** The sum of combinations, times a factor. */
export function sum(combinations: readonly Combination[], factor = 1): Combination {
  const fixed: Record<string, number> = {};
  for (const one of combinations)
    for (const [term, value] of Object.entries(one.fixed ?? {})) fixed[term] = (fixed[term] ?? 0) + factor * value;
  const random = combinations.flatMap((one) =>
    (one.random ?? []).map((part) => ({ ...part, coefficient: factor * (part.coefficient ?? 1) })),
  );
  return { fixed, random };
}
