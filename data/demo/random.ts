import mt19937 from '@stdlib/random-base-mt19937';
import normalDistribution from '@stdlib/random-base-normal';

/** One seeded stream of random draws; the order of the calls is part of what a seed means. */
export interface Random {
  /** Uniform on [0, 1), 53 bits. */
  uniform(): number;
  /** Normal with mean 0. */
  normal(sd: number): number;
  /** Normal with mean 0, rounded to 4 decimals, for truths that are written down and must be exactly what was used. */
  written(sd: number): number;
  /** Whole number from 0 to `below - 1`. */
  whole(below: number): number;
  pick<T>(from: readonly T[]): T;
  /** A shuffled copy (Fisher and Yates). */
  shuffled<T>(items: readonly T[]): T[];
}

/**
 * A stream of draws from the Mersenne Twister.
 *
 * @param seed whole number from 1 to 2^32 - 1
 * @throws {RangeError} when the seed is not such a number
 */
export function seededRandom(seed: number): Random {
  if (!Number.isInteger(seed) || seed < 1 || seed >= 2 ** 32)
    throw new RangeError(`Cannot seed a demo shop with ${seed}; expected a whole number from 1 to ${2 ** 32 - 1}`);
  const word = mt19937.factory({ seed });
  // The usual 53-bit uniform of the Mersenne Twister: 27 bits of one word above 26 bits of the next.
  const uniform = (): number => ((word() >>> 5) * 2 ** 26 + (word() >>> 6)) / 2 ** 53;
  const standardNormal = normalDistribution.factory(0, 1, { prng: uniform });
  const whole = (below: number): number => Math.floor(uniform() * below);
  return {
    uniform,
    normal: (sd) => sd * standardNormal(),
    written: (sd) => Math.round(sd * standardNormal() * 1e4) / 1e4,
    whole,
    pick: (from) => from[whole(from.length)]!,
    shuffled: (items) => {
      const copy = [...items];
      for (let i = copy.length - 1; i > 0; i--) {
        const j = whole(i + 1);
        [copy[i], copy[j]] = [copy[j]!, copy[i]!];
      }
      return copy;
    },
  };
}
