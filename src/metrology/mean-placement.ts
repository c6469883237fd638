import { measuredPlacement, type Placement } from '../acoustics/placement.ts';
import type { CaliperReading } from './fit-placement.ts';

/**
 * Frets where the mean of their readings has them.
 *
 * @param scaleMm distance from nut to saddle before either is set back
 * @throws {RangeError} when a fret between the first and the last was not read, or as `measuredPlacement`
 */
export function meanPlacement(readings: readonly CaliperReading[], scaleMm: number): Placement {
  const last = Math.max(0, ...readings.map(({ fret }) => fret));
  const means = Array.from({ length: last }, (_, at) => {
    const own = readings.filter(({ fret }) => fret === at + 1);
    if (own.length === 0)
      throw new RangeError(
        `Cannot place fret ${at + 1}: no reading of it; expected one of each fret from 1 to ${last}`,
      );
    return own.reduce((sum, { nutToFretMm }) => sum + nutToFretMm, 0) / own.length;
  });
  return measuredPlacement(scaleMm, means);
}
