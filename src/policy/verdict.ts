import { negligibleCents, type ShareChoice } from './share.ts';

/** What the bench is told to do, in the words of the card. */
export const verdicts = ['12th exact', 'split', 'favour the 17th', 'either', 'measure more first'] as const;
export type Verdict = (typeof verdicts)[number];

export interface Judgement {
  readonly verdict: Verdict;
  /** One sentence: why. */
  readonly reason: string;
}

/**
 * Puts a choice of share into words.
 *
 * @param costs expected cost in cents with the 12th exact and with the 17th exact
 * @param known how many instruments of this model had the string read, and how many more of them the other models stand for
 */
export function judge(
  choice: ShareChoice,
  costs: { readonly twelfthExact: number; readonly seventeenthExact: number },
  known: { readonly instruments: number; readonly fromOthers: number },
): Judgement {
  const told = adviceOf(choice, costs, known);
  return known.instruments > 0
    ? told
    : { ...told, reason: `no instrument of this model was read and the shop's mean stands in; ${told.reason}` };
}

function adviceOf(
  choice: ShareChoice,
  costs: { readonly twelfthExact: number; readonly seventeenthExact: number },
  known: { readonly instruments: number; readonly fromOthers: number },
): Judgement {
  const { share, cost, regret, clipped } = choice;
  if (regret > negligibleCents) {
    // What is unknown shrinks as 1/n, and the regret of a smooth cost with it.
    const more = Math.max(1, Math.ceil((known.instruments + known.fromOthers) * (regret / negligibleCents - 1)));
    return {
      verdict: 'measure more first',
      reason: `not knowing the model costs ${regret.toFixed(2)} cents; about ${more} more instrument${more === 1 ? '' : 's'} would bring that under ${negligibleCents}`,
    };
  }
  const { fineLow, fineHigh } = choice;
  if (fineLow === 0 && fineHigh === 1)
    return {
      verdict: 'either',
      reason: `any weights from 100/0 to 0/100 are within ${negligibleCents} cents of the best`,
    };
  const beyond =
    clipped === 'no'
      ? ''
      : `; the best share lay beyond the ${clipped === 'at the 12th' ? '12th' : '17th'} and was moved to it`;
  const instead = (words: string, end: number): string =>
    end - cost > negligibleCents
      ? `${words} exact would cost ${(end - cost).toFixed(1)} cents more`
      : `${words} exact would sound the same and leave larger errors`;
  const twelfth = instead('12th', costs.twelfthExact);
  const seventeenth = instead('17th', costs.seventeenthExact);
  if (share < 0.05) return { verdict: '12th exact', reason: `${seventeenth}${beyond}` };
  if (share > 0.75) return { verdict: 'favour the 17th', reason: `${twelfth}${beyond}` };
  return { verdict: 'split', reason: `${twelfth}; ${seventeenth}` };
}

/** A share as the bench says it: the weight of the 12th over that of the 17th, to the nearest 5. */
export function weightsText(share: number): string {
  const to17 = Math.round(share * 20) * 5;
  return `${100 - to17}/${to17}`;
}
