import { equalPlacement, type Placement } from '../../src/acoustics/placement.ts';
import { withAction } from '../../src/acoustics/fretting.ts';
import { plainDensity, responseOfBuild } from '../../src/acoustics/string-physics.ts';
import type { StrungString } from '../../src/trend/causes.ts';

/** Pitch, core and density of an invented set of steel strings; wound strings by their core, mass in mg/mm. */
const set = [
  { hz: 329.63, coreMm: 0.25, densityMgPerMm: plainDensity(0.25, 7.85) },
  { hz: 246.94, coreMm: 0.33, densityMgPerMm: plainDensity(0.33, 7.85) },
  { hz: 196, coreMm: 0.43, densityMgPerMm: plainDensity(0.43, 7.85) },
  { hz: 146.83, coreMm: 0.32, densityMgPerMm: 2.2 },
  { hz: 110, coreMm: 0.38, densityMgPerMm: 3.9 },
  { hz: 82.41, coreMm: 0.44, densityMgPerMm: 6.8 },
] as const;

/** Six invented strings on an invented neck of 648 mm, 2 mm of action at the 12th. */
export function inventedStrings(placement: Placement = equalPlacement(648, 22)): StrungString[] {
  return set.map((build) => ({
    response: responseOfBuild({ ...build, scaleMm: placement.scaleMm, modulusGpa: 200 }),
    setup: withAction(12, 2, {
      placement,
      setbackMm: 0,
      nutSetbackMm: 0,
      nutHeightMm: 0.4,
      saddleHeightMm: 3,
      reliefMm: 0.25,
      fingerBehindMm: 8,
      fingerDepthMm: 0.3,
    }),
  }));
}
