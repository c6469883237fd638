import { signed } from '../acoustics/signed.ts';
import { kappa } from '../acoustics/frets.ts';
import type { GroupContrast, Reach } from './compare-groups.ts';
import type { GroupFit } from './group-fit.ts';
import type { FoundGroup } from './groups.ts';

/**
 * One contrast in words: what is shown, with the difference, its interval and its size between instruments.
 *
 * @param together number of contrasts that were judged together
 */
export function contrastSentence(
  contrast: Omit<GroupContrast, 'sentence'>,
  { marginCents, together }: { readonly marginCents: number; readonly together: number },
): string {
  const {
    quantity,
    one,
    other,
    strings,
    difference,
    simultaneousLow,
    simultaneousHigh,
    standardised,
    adjustedP,
    equivalence,
  } = contrast;
  const what = quantity === 'nut' ? 'nut offset' : 'rise';
  const where = strings.length === 1 ? ` on string ${strings[0]!}` : '';
  const size = standardised
    ? `, ${Math.abs(standardised.estimate).toFixed(1)} times the standard deviation between instruments`
    : '';
  const within = `shown to lie within ±${marginCents} cents (90 %, ${signed(equivalence.low)} to ${signed(equivalence.high)})`;
  const numbers = `${one} less ${other} ${signed(difference.estimate)} cents of ${what}${where} (95 %${together > 1 ? ', all judged together' : ''}, ${signed(simultaneousLow)} to ${signed(simultaneousHigh)}${size})`;
  switch (contrast.verdict) {
    case 'differ audibly':
      return `${one} and ${other} differ audibly: ${numbers}, all of it beyond ±${marginCents} cents.`;
    case 'differ inaudibly':
      return `${one} and ${other} differ, but inaudibly: ${numbers}, ${within}.`;
    case 'alike':
      return `${one} and ${other} are alike within ±${marginCents} cents: ${numbers}, ${within}.`;
    case 'open':
      return adjustedP < 0.05
        ? `${one} and ${other} differ, but the readings cannot tell yet whether audibly: ${numbers}, which reaches to either side of ${marginCents} cents.`
        : `The readings cannot tell yet whether ${one} and ${other} differ: ${numbers}.`;
  }
}

function haveNoModelInCommon(groups: readonly FoundGroup[]): boolean {
  return groups.some((one, at) =>
    groups.slice(at + 1).some((other) => !one.models.some((model) => other.models.includes(model))),
  );
}

/** What a comparison contains and what it could not tell, in plain sentences. */
export function comparisonNotes(
  { fit, grouping, parts, weights, sums }: GroupFit,
  contrasts: readonly GroupContrast[],
  { reach, marginCents }: { readonly reach: Reach; readonly marginCents: number },
): string[] {
  const { groups, ofBlock } = grouping;
  const notes: string[] = [];
  const isFamily = (['rise', 'nut'] as const).some(
    (own) => contrasts.filter(({ quantity }) => quantity === own).length > 1,
  );
  notes.push(
    `Difference of one less the other in cents, positive where the one is sharper; ±${marginCents} cents counts as inaudible. ` +
      `${isFamily ? 'Intervals and p values hold for all contrasts of a quantity together; being' : 'Being'} alike is shown by two one-sided tests at 5 %.`,
  );
  if (reach === 'these models')
    notes.push(
      (groups.some(({ models }) => models.length > 1)
        ? 'Speaks of the models that were read, every one counted alike; another model of the same kind may differ.'
        : 'Speaks of the models that were read.') +
        (haveNoModelInCommon(groups)
          ? ' Some groups have no model in common: whatever else sets their models apart is in the difference.'
          : ''),
    );
  else
    notes.push(
      'Speaks of models like those read: the spread between models counts into every error, so only more models, not more instruments, make it much more certain.',
    );
  if (parts.nutByGroup) notes.push('Nut offsets are told apart from rises, group by group.');
  else if (parts.identified.nut)
    notes.push(
      `All groups share one nut offset, since not every group has 3 instruments read at low frets: a difference of rises contains ${(1 - kappa).toFixed(2)} times the difference of their nut offsets.`,
    );
  else
    notes.push(
      `With the 12th and the 17th alone a difference of rises contains ${(1 - kappa).toFixed(2)} times the difference of nut offsets.`,
    );
  if (contrasts.some(({ quantity, strings }) => quantity === 'rise' && strings.length === 0))
    notes.push('Some groups have no string in common: their difference is also that of the strings they are on.');
  const dropped = fit.dropped.filter((term) => term.includes(' of technician '));
  if (dropped.length > 0)
    notes.push(
      'Some technicians read one group alone: their hands cannot be told from the groups, and are in the differences.',
    );
  else if (!parts.identified.technicians && sums.technicians.length > 1)
    notes.push(
      "The technicians' hands are not told apart: where they read different groups, their hands are in the difference.",
    );
  else if (parts.identified.technicians) notes.push("Technicians' hands are taken out.");
  if (parts.isWithin)
    notes.push('Some instruments have readings in several groups; they are compared with themselves.');
  if (ofBlock.includes(groups.length))
    notes.push('Readings in no group tell of the spread between instruments and of hands, and of no difference.');
  if (weights.listed.length > 0) {
    const some = new Set(weights.listed.map(({ instrument }) => instrument)).size;
    notes.push(
      `${some} instrument${some === 1 ? ' fits its' : 's fit their'} group badly on some string and count${some === 1 ? 's' : ''} for less than half there; none is left out.`,
    );
  }
  const few = groups
    .filter(({ instruments }) => instruments.size < 6)
    .map(({ name, instruments }) => `${name} (${instruments.size})`);
  if (few.length > 0) notes.push(`Few instruments: ${few.join(', ')}.`);
  if (!fit.convergence.converged)
    notes.push(
      'The search for the best fit did not settle fully: take the intervals as rough, and read more instruments.',
    );
  return notes;
}
