import { moveForCents } from '../acoustics/saddle.ts';
import { normalQuantile } from '../statistics/distributions.ts';
import { departureNoise } from './left-instruments.ts';

/** What the bench's readings are like, in cents. */
export interface BenchReading {
  /** Standard deviation of one reading of the same string by the same hand. */
  readonly readingSd: number;
  /** Step of the display; 0 where it does not matter. */
  readonly stepCents: number;
  /** Standard deviation between hands reading the same string; 0 where one hand reads all. */
  readonly handSd: number;
  /** How often the 12th and the 17th are read before the saddle is judged; their mean counts. */
  readonly repeats: number;
}

/** The smallest saddle error that a bench can see, as it reads at the 12th and as a distance. */
export interface BenchSight {
  /** A departure beyond this is no chance, at 95 %: the window that makes sense. */
  readonly windowCents: number;
  readonly windowMm: number;
  /** An error of this size is seen to be beyond the window four times in five. */
  readonly seenCents: number;
  readonly seenMm: number;
}

/**
 * The smallest saddle error that a bench can see. Its readings at the 12th and the 17th, weighed as the standard's share says,
 * scatter by {@link departureNoise}; a saddle error shows in full. The window is 1.96 of these standard deviations (rounding,
 * step^2 / 12, and hands counted in), and an error of 1.96 + 0.84 is found outside it with 80 % (the usual power of a two-sided
 * 5 % test).
 *
 * @param scaleMm the scale length that turns cents at the 12th into millimetres
 */
export function benchSight(share: number, reading: BenchReading, scaleMm: number): BenchSight {
  const { readingSd, stepCents, handSd, repeats } = reading;
  const own = Math.sqrt((readingSd ** 2 + stepCents ** 2 / 12) / repeats);
  const sd = Math.hypot(departureNoise(share, own), handSd);
  const windowCents = normalQuantile(0.975) * sd;
  const seenCents = windowCents + normalQuantile(0.8) * sd;
  // Forward, so that the error is sharp; the linear form would do.
  const mm = (cents: number): number => -moveForCents(12, cents, { scaleMm, setbackMm: 0 });
  return { windowCents, windowMm: mm(windowCents), seenCents, seenMm: mm(seenCents) };
}
