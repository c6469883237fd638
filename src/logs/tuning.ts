import { hzOfNote } from '../acoustics/pitch.ts';

/** Open strings from string 1 by number of strings: common practice, no source. */
const common: Record<number, readonly string[]> = {
  4: ['G2', 'D2', 'A1', 'E1'],
  5: ['G2', 'D2', 'A1', 'E1', 'B0'],
  6: ['E4', 'B3', 'G3', 'D3', 'A2', 'E2'],
  7: ['E4', 'B3', 'G3', 'D3', 'A2', 'E2', 'B1'],
};

/**
 * Nominal pitch in hertz of the open strings, from string 1, that most instruments with so many strings have;
 * undefined where no tuning is that common. Four and five strings are taken for a bass.
 */
export function assumedTuningHz(strings: number | undefined, a4Hz: number): readonly number[] | undefined {
  return strings === undefined ? undefined : common[strings]?.map((note) => hzOfNote(note, a4Hz));
}
