import type { Usage } from './usage.ts';

/** Strings and frets of a model whose necks a usage is laid on. */
export interface Fretboard {
  readonly model: string;
  readonly strings: readonly number[];
  readonly frets: number;
}

/**
 * Sentences on what of a usage a model's neck has no place for, and which of its strings the usage does not tell of: shares of
 * the fretted notes that `usageWeights` leaves out. Models alike in this share a sentence.
 *
 * @param name of the usage profile
 * @throws {RangeError} where a model's neck has no place for any of it
 */
export function usageFit(usage: Usage, name: string, fretboards: readonly Fretboard[]): string[] {
  const models = new Map<string, string[]>();
  for (const { model, frets } of fretboards)
    if (
      ![...usage.values()].some((counts) =>
        [...counts].some(([fret, count]) => fret >= 1 && fret <= frets && count > 0),
      )
    )
      throw new RangeError(
        `${name}: found no count at frets 1 to ${frets}, all that ${model} has; expected counts at some of these. ` +
          'Give another profile, or mend the frets of the model in models.csv',
      );
  for (const fretboard of fretboards)
    for (const sentence of misfits(usage, fretboard))
      (models.get(sentence) ?? models.set(sentence, []).get(sentence)!).push(fretboard.model);
  return [...models].map(([sentence, of]) => `Usage ${name}, for ${of.join(', ')}: ${sentence}.`);
}

function misfits(usage: Usage, { strings, frets }: Fretboard): string[] {
  let [all, beyondFrets, beyondStrings] = [0, 0, 0];
  const told = new Set<number>();
  for (const [string, counts] of usage)
    for (const [fret, count] of counts) {
      if (fret === 0 || count === 0) continue;
      all += count;
      if (!strings.includes(string)) beyondStrings += count;
      else if (fret > frets) beyondFrets += count;
      else told.add(string);
    }
  const share = (part: number): string => {
    const percent = (100 * part) / all;
    return `${percent >= 1 ? percent.toFixed(0) : percent >= 0.1 ? percent.toFixed(1) : 'under 0.1'} % of the fretted playing`;
  };
  const untold = strings.filter((string) => !told.has(string));
  return [
    ...(beyondFrets > 0 ? [`${share(beyondFrets)} lies above fret ${frets}, the last one, and was left out`] : []),
    ...(beyondStrings > 0 ? [`${share(beyondStrings)} is on strings that were not read, and was left out`] : []),
    ...(untold.length > 0
      ? [
          `no note on ${untold.length === 1 ? 'string' : 'strings'} ${untold.join(', ')}, weighed as the others together`,
        ]
      : []),
  ];
}
