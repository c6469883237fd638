import mt19937 from '@stdlib/random-base-mt19937';
import normalDistribution from '@stdlib/random-base-normal';

/**
 * A stream of uniform numbers in [0, 1) with 53 bits from a Mersenne Twister: the same seed gives the same numbers everywhere.
 *
 * @param seed whole number from 1 to 2^32 - 1
 */
export function uniformRandom(seed: number): () => number {
  const word = mt19937.factory({ seed });
  // 27 bits of one word above 26 bits of the next (Matsumoto & Nishimura's genrand_res53).
  return () => ((word() >>> 5) * 2 ** 26 + (word() >>> 6)) / 2 ** 53;
}

/** A stream of standard normal numbers, seeded as {@link uniformRandom}. */
export function normalRandom(seed: number): () => number {
  return normalDistribution.factory(0, 1, { prng: uniformRandom(seed) });
}
