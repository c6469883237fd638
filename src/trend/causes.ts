import { frettedNote, type FrettedNote, type Setup, type StringEnds } from '../acoustics/fretting.ts';
import type { StringResponse } from '../acoustics/string-physics.ts';

/** Something that makes fretted notes err, by its shape along the neck. */
export interface Cause {
  readonly name: string;
  /** Cents at a fret from fret 1 on a string, for a size of 1. */
  readonly shape: (string: number, fret: number) => number;
  /** What a size of 1 is: `times as predicted`, or a unit. */
  readonly unit: string;
  /**
   * `estimated`: its size is told from the readings. `as predicted`: it is taken as it is, size 1, since something other than the
   * readings says how large it is.
   */
  readonly size: 'estimated' | 'as predicted';
}

/** What a string is and how it stands over the frets, as it was measured or is believed to be. */
export interface StrungString {
  readonly response: StringResponse;
  readonly setup: Setup;
  readonly ends?: StringEnds;
}

const physical = ['stretch', 'stiffness', 'placement'] as const;
export type PhysicalCause = (typeof physical)[number];

/**
 * Stretch, stiffness and fret placement of an instrument's strings, with shapes and sizes by `frettedNote`. A cause that does
 * nothing at any fret (frets in equal temperament) is left out.
 *
 * @param strings by string number, string 1 first
 * @param size    which are taken as predicted rather than told from the readings; default none
 */
export function physicalCauses(
  strings: readonly StrungString[],
  size: Partial<Record<PhysicalCause, Cause['size']>> = {},
): Cause[] {
  if (strings.length === 0) throw new RangeError('Cannot predict causes for no string; expected one entry a string');
  const notes = strings.map(({ response, setup, ends }) =>
    setup.placement.nutToFretMm.map((_, fret) => (fret === 0 ? null : frettedNote(fret, response, setup, ends))),
  );
  const noteAt = (string: number, fret: number): FrettedNote => {
    const note = notes[string - 1]?.[fret];
    if (!note)
      throw new RangeError(
        `Cannot predict string ${string} at fret ${fret}; expected strings 1 to ${strings.length} and frets from 1 to ${(notes[string - 1] ?? notes[0]!).length - 1}`,
      );
    return note;
  };
  return physical.flatMap((name): Cause[] => {
    const isSilent = notes.every((own) => own.every((note) => !note || Math.abs(note[name]) < 1e-9));
    if (isSilent) return [];
    return [
      {
        name,
        unit: 'times as predicted',
        size: size[name] ?? 'estimated',
        shape: (string, fret) => noteAt(string, fret)[name],
      },
    ];
  });
}

/**
 * A finger that presses deeper behind the fret by `deeperMm`, whoever reads; shape by the difference of two `frettedNote`.
 *
 * @throws {RangeError} when a setup does not say where and how deep the finger presses, since what more does depends on that
 */
export function pressingHarder(strings: readonly StrungString[], deeperMm = 0.1): Cause {
  strings.forEach(({ setup: { fingerBehindMm, fingerDepthMm } }, at) => {
    if (fingerDepthMm === undefined || !fingerBehindMm)
      throw new RangeError(
        `Cannot press harder on string ${at + 1}, whose setup says not how hard it is pressed; expected fingerDepthMm, and fingerBehindMm above 0`,
      );
  });
  const [asIs, deeper] = [0, deeperMm].map((more) =>
    physicalCauses(
      strings.map(({ setup, ...string }) => ({
        ...string,
        setup: { ...setup, fingerDepthMm: setup.fingerDepthMm! + more },
      })),
    ).find(({ name }) => name === 'stretch')!,
  );
  return {
    name: 'pressing harder',
    unit: `times ${deeperMm} mm deeper`,
    size: 'estimated',
    shape: (string, fret) => deeper!.shape(string, fret) - asIs!.shape(string, fret),
  };
}
