import type { Ends, Placement } from './placement.ts';
import type { StringResponse } from './string-physics.ts';

/** One string over its frets, and the finger that stops it; lengths in mm. */
export interface Setup extends Ends {
  readonly placement: Placement;
  /** Height of the string where it leaves the nut, over the straight line through the tops of the first and last fret. */
  readonly nutHeightMm: number;
  /** Height of the string where it leaves the saddle, over the same line. */
  readonly saddleHeightMm: number;
  /** Greatest depth of the frets between under that line: a parabola through the first and the last fret. 0 for none. */
  readonly reliefMm?: number;
  /** How far behind the fret, toward the nut, the finger presses. 0 at the fret itself. */
  readonly fingerBehindMm?: number;
  /**
   * How far under the top of the fret the finger presses the string there. Left out, the string runs straight on past the
   * fret, as it comes from the saddle.
   */
  readonly fingerDepthMm?: number;
}

/** How the ends of a sounding string are held. */
export type StringEnds = 'pinned at the saddle' | 'clamped at both ends';

/** Error of a stopped note against equal temperament, open string in tune, and its causes; cents that add up to `total`. */
export interface FrettedNote {
  readonly fret: number;
  /** Where the fret stands on the scale length. */
  readonly placement: number;
  /** Setbacks of saddle and nut, with what the string's slope adds to its lengths. */
  readonly ends: number;
  /** Tension and mass over length, as fretting stretches the string. */
  readonly stretch: number;
  /** Stiffness, which tells more on a shorter string. */
  readonly stiffness: number;
  readonly total: number;
}

/**
 * Error in cents of a stopped note by cause:
 *
 *     placement   1200 log2(X0 / Xn) - 100 n
 *     ends        1200 log2(L0 / Ln) - 1200 log2(X0 / Xn)
 *     stretch     600 log2(1 + Q) + 600 log2(1 + kappa Q),           Q = (Ln + L'n - L0) / L0
 *     stiffness   1200 log2(s(Bn) / s(B0)),                         Bn = B0 X0 / Xn
 *
 * X0 is the scale length, Xn what the fret leaves of it; L0, Ln and L'n are the string's own lengths, open, from fret to saddle,
 * and from fret by the finger to the nut. The stiff string is `s(B) = 1 + B + (1 + pi^2 / 2) B^2`, clamped at the fret and pinned
 * at the saddle, or `1 + 2 B + (4 + pi^2 / 2) B^2`, clamped at both ends.
 *
 * @see Anderson & Beausoleil, "Classical Guitar Intonation and Compensation: The Well-Tempered Guitar"; Morse, "Vibration and
 * Sound", for the string clamped at both ends
 *
 * @throws {RangeError} for a fret the placement lacks, a saddle at or before it, a finger at or behind the nut, a finger that
 * presses deep at the fret itself, or a height or string that is no number
 */
export function frettedNote(
  fret: number,
  string: StringResponse,
  setup: Setup,
  stringEnds: StringEnds = 'pinned at the saddle',
): FrettedNote {
  const { scaleMm } = setup.placement;
  const stopped = scaleMm - fretMm(fret, setup.placement);
  const lengths = stringLengths(fret, setup);
  const stretch = (lengths.soundingMm + lengths.behindMm - lengths.openMm) / lengths.openMm;
  const placement = 1200 * Math.log2(scaleMm / stopped) - 100 * fret;
  const causes = {
    placement,
    ends: 1200 * Math.log2(lengths.openMm / lengths.soundingMm) - 100 * fret - placement,
    stretch: 600 * Math.log2(1 + stretch) + 600 * Math.log2(1 + string.tensionPerStretch * stretch),
    stiffness:
      1200 *
      Math.log2(
        stiffening((string.stiffness * scaleMm) / stopped, stringEnds) / stiffening(string.stiffness, stringEnds),
      ),
  };
  const total = causes.placement + causes.ends + causes.stretch + causes.stiffness;
  if (Number.isNaN(total)) requireNumbers(fret, string, setup);
  return { fret, ...causes, total };
}

/** Throws for what was given and is no number. */
function requireNumbers(
  fret: number,
  { tensionPerStretch, stiffness }: StringResponse,
  { nutHeightMm, saddleHeightMm, reliefMm = 0, fingerDepthMm = 0 }: Setup,
): void {
  const given = { tensionPerStretch, stiffness, nutHeightMm, saddleHeightMm, reliefMm, fingerDepthMm };
  for (const [name, value] of Object.entries(given))
    if (!Number.isFinite(value))
      throw new RangeError(`Cannot stop a string at fret ${fret} with ${name} ${value}; expected a number`);
}

/** Height of the open string over the top of a fret, in mm: its action there. */
export function actionMm(fret: number, setup: Setup): number {
  const openMm = setup.placement.scaleMm + setup.setbackMm + setup.nutSetbackMm;
  const part = (fretMm(fret, setup.placement) + setup.nutSetbackMm) / openMm;
  return setup.nutHeightMm + part * (setup.saddleHeightMm - setup.nutHeightMm) + fretDepthMm(fret, setup);
}

/**
 * The setup with its saddle raised or lowered so that the open string stands `wantedMm` over the top of a fret from fret 1.
 *
 * @throws {RangeError} for a fret at the nut, or a wanted action that is negative or no number
 */
export function withAction(fret: number, wantedMm: number, setup: Setup): Setup {
  const openMm = setup.placement.scaleMm + setup.setbackMm + setup.nutSetbackMm;
  const part = (fretMm(fret, setup.placement) + setup.nutSetbackMm) / openMm;
  if (!(part > 0))
    throw new RangeError(`Cannot set the action at fret ${fret} by the saddle; expected a fret beyond the nut`);
  if (!(wantedMm >= 0 && wantedMm < Infinity))
    throw new RangeError(`Cannot set an action of ${wantedMm} mm at fret ${fret}; expected 0 or more`);
  return { ...setup, saddleHeightMm: setup.saddleHeightMm + (wantedMm - actionMm(fret, setup)) / part };
}

function stiffening(b: number, ends: StringEnds): number {
  const square = Math.PI ** 2 / 2;
  return ends === 'pinned at the saddle' ? 1 + b + (1 + square) * b * b : 1 + 2 * b + (4 + square) * b * b;
}

interface StringLengths {
  readonly openMm: number;
  /** From fret to saddle. */
  readonly soundingMm: number;
  /** From nut by the finger to the fret. */
  readonly behindMm: number;
}

function stringLengths(fret: number, setup: Setup): StringLengths {
  const { placement, setbackMm, nutSetbackMm, nutHeightMm, saddleHeightMm, fingerBehindMm: behind = 0 } = setup;
  const at = fretMm(fret, placement);
  const openMm = Math.hypot(placement.scaleMm + setbackMm + nutSetbackMm, saddleHeightMm - nutHeightMm);
  if (fret === 0) return { openMm, soundingMm: openMm, behindMm: 0 };
  const run = placement.scaleMm - at + setbackMm;
  if (!(run > 0))
    throw new RangeError(
      `Cannot stop a ${placement.scaleMm} mm string with setback ${setbackMm} mm at fret ${fret}; expected a saddle beyond the fret`,
    );
  const nutRun = at + nutSetbackMm - behind;
  if (!(nutRun > 0 && behind >= 0))
    throw new RangeError(
      `Cannot press the string ${behind} mm behind fret ${fret}; expected from 0 to less than ${at + nutSetbackMm} mm, where the nut stands`,
    );
  if (behind === 0 && setup.fingerDepthMm)
    throw new RangeError(
      `Cannot press the string ${setup.fingerDepthMm} mm under the top of fret ${fret} at the fret itself; expected fingerBehindMm above 0`,
    );
  const depth = fretDepthMm(fret, setup);
  const drop = saddleHeightMm + depth;
  const fingerDepth = setup.fingerDepthMm ?? (drop / run) * behind;
  return {
    openMm,
    soundingMm: Math.hypot(run, drop),
    behindMm: Math.hypot(behind, fingerDepth) + Math.hypot(nutRun, nutHeightMm + depth + fingerDepth),
  };
}

/** Depth of a fret's top under the line through the first and last fret; the parabola goes on outside them. */
function fretDepthMm(fret: number, { placement, reliefMm = 0 }: Setup): number {
  if (reliefMm === 0 || fret === 0) return 0;
  const [first, last] = [fretMm(1, placement), fretMm(placement.nutToFretMm.length - 1, placement)];
  const at = fretMm(fret, placement);
  return last > first ? (4 * reliefMm * (at - first) * (last - at)) / (last - first) ** 2 : 0;
}

function fretMm(fret: number, { nutToFretMm }: Placement): number {
  const mm = nutToFretMm[fret];
  if (mm === undefined)
    throw new RangeError(`Cannot stop a string at fret ${fret}; expected a fret from 0 to ${nutToFretMm.length - 1}`);
  return mm;
}
