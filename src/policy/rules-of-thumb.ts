import { evenShare } from '../acoustics/rise.ts';

/** The ways a bench splits the difference by feel, against which a standard is compared. Common practice, no source. */
export const rulesOfThumb = ['12th exact', '17th exact', 'even split', 'low strings 12th, high strings split'] as const;
export type RuleOfThumb = (typeof rulesOfThumb)[number];

/**
 * The share that a rule of thumb gives a string.
 *
 * @param string  1 is the thinnest
 * @param strings number of strings of the instrument
 */
export function ruleShare(rule: RuleOfThumb, string: number, strings: number): number {
  switch (rule) {
    case '12th exact':
      return 0;
    case '17th exact':
      return 1;
    case 'even split':
      return evenShare;
    case 'low strings 12th, high strings split':
      return strings > 1 ? (evenShare * (strings - string)) / (strings - 1) : evenShare;
  }
}
