import type { ShareChoice } from './share.ts';

/** What the bench is told to do, in the words of the card. */
export const verdicts = ['12th exact', 'split', 'favour the 17th', 'either', 'measure more first'] as const;
export type Verdict = (typeof verdicts)[number];

/** Differences in expected cost below this many cents would not change a standard (DESIGN section 5). */
export const negligibleCents = 0.1;

export interface Judgement {
  readonly verdict: Verdict;
  /** One sentence: why. */
  readonly reason: string;
}

/**
 * Puts a choice of share into words.
 *
 * @param costs expected cost in cents with the 12th exact and with the 17th exact
 * @param instruments of this model whose string was read
 */
export function judge(
  choice: ShareChoice,
  costs: { readonly twelfthExact: number; readonly seventeenthExact: number },
  instruments: number,
): Judgement {
  const { share, cost, regret, clipped } = choice;
  if (regret > negligibleCents) {
    // What is unknown shrinks as 1/n, and the regret of a smooth cost with it.
    const more = Math.max(1, Math.ceil(instruments * (regret / negligibleCents - 1)));
    return {
      verdict: 'measure more first',
      reason: `not knowing the model costs ${regret.toFixed(2)} cents; about ${more} more instrument${more === 1 ? '' : 's'} would bring that under ${negligibleCents}`,
    };
  }
  const atStake = Math.max(costs.twelfthExact, costs.seventeenthExact) - cost;
  if (atStake < negligibleCents)
    return {
      verdict: 'either',
      reason: `any split from 12th exact to 17th exact is within ${negligibleCents} cents of the best`,
    };
  const beyond =
    clipped === 'no'
      ? ''
      : `; the best share lay beyond and was moved to the 1${clipped === 'at the 12th' ? '2' : '7'}th`;
  if (share < 0.05)
    return { verdict: '12th exact', reason: `splitting would cost up to ${atStake.toFixed(1)} cents more${beyond}` };
  if (share > 0.75)
    return {
      verdict: 'favour the 17th',
      reason: `12th exact would cost ${(costs.twelfthExact - cost).toFixed(1)} cents more${beyond}`,
    };
  return {
    verdict: 'split',
    reason: `12th exact would cost ${(costs.twelfthExact - cost).toFixed(1)} cents more, 17th exact ${(costs.seventeenthExact - cost).toFixed(1)}`,
  };
}
