import { cents } from './pitch.ts';

/** Partials that an interval brings close together: number `lower` of the lower note, number `upper` of the higher one. */
export interface CoincidingPartials {
  readonly lower: number;
  readonly upper: number;
}

/** Partials above the eighth are weak on a plucked string and stand too close to be told apart (common practice, no source). */
const highestPartial = 8;

/** Partials farther apart than this, half a semitone, do not count as coinciding. */
const farthestCents = 50;

const pairs = Array.from({ length: highestPartial }, (_, at) => at + 1).flatMap((lower) =>
  Array.from({ length: lower }, (_, at) => at + 1)
    .filter((upper) => greatestDivisor(lower, upper) === 1)
    .map((upper): CoincidingPartials => ({ lower, upper })),
);

function greatestDivisor(a: number, b: number): number {
  return b === 0 ? a : greatestDivisor(b, a % b);
}

/**
 * The partials, up to the eighth, that an equal-tempered interval brings closest together: its just ratio in lowest terms,
 * such as 3:2 for a fifth, where the third partial of the lower note meets the second of the higher one. Null where no two
 * come within half a semitone, as for a semitone or a major seventh.
 *
 * @param semitones size of the interval, 0 for a unison
 */
export function coincidingPartials(semitones: number): CoincidingPartials | null {
  const distance = ({ lower, upper }: CoincidingPartials): number => Math.abs(cents(lower, upper) - 100 * semitones);
  const nearest = pairs.reduce((best, pair) => (distance(pair) < distance(best) ? pair : best));
  return distance(nearest) < farthestCents ? nearest : null;
}

/**
 * Beats a second, in hertz, of a nearly just interval: the difference `|p f1 - q f2|` of its coinciding partials.
 *
 * Partials are taken as whole multiples of the fundamental; those of a stiff string stand a little sharp.
 *
 * @see Houtsma, Rossing & Wagenaars, "Auditory Demonstrations" (Acoustical Society of America, 1987), demonstration 32
 */
export function beatHz(lowerHz: number, upperHz: number, { lower, upper }: CoincidingPartials): number {
  return Math.abs(lower * lowerHz - upper * upperHz);
}
