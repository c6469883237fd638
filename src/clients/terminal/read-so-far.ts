import { signedCents } from '../../bench/move-words.ts';
import type { LoggedReading } from '../../logs/append-log.ts';

/** The readings of one instrument at one pass, a line a string: `string 3: 12 +1.5, 17 +4.0`; repeats one after another. */
export function readSoFar(readings: readonly LoggedReading[]): string[] {
  const strings = [...new Set(readings.map((one) => one.string))].sort((a, b) => a - b);
  return strings.map((string) => {
    const own = readings.filter((one) => one.string === string);
    const frets = [...new Set(own.map((one) => one.fret))].sort((a, b) => a - b);
    const read = frets.map((fret) => {
      const cents = own.filter((one) => one.fret === fret).map((one) => signedCents(one.cents));
      return `${fret} ${cents.join(' and ')}`;
    });
    return `string ${string}: ${read.join(', ')}`;
  });
}

/** Whether a string was read at both frets that a saddle is set by. */
export function isRead(readings: readonly LoggedReading[], string: number): boolean {
  return nextFret(readings, string) === null;
}

/** The fret to read next on a string: the 12th, then the 17th, then none. */
export function nextFret(readings: readonly LoggedReading[], string: number): 12 | 17 | null {
  const read = (fret: number): boolean => readings.some((one) => one.string === string && one.fret === fret);
  return !read(12) ? 12 : !read(17) ? 17 : null;
}

/**
 * The string to go to after `string`: the next in the direction last gone that is not read yet, else any that is not.
 *
 * @param strings number of strings; undefined where the model is not known: then simply the next one
 * @returns null where all are read
 */
export function nextString(
  readings: readonly LoggedReading[],
  {
    string,
    heading,
    strings,
  }: { readonly string: number; readonly heading: 1 | -1; readonly strings: number | undefined },
): number | null {
  if (strings === undefined) {
    const next = string + heading;
    return next >= 1 && next <= 12 ? next : null;
  }
  const all = Array.from({ length: strings }, (_, at) => at + 1).filter((one) => one !== string);
  const ahead = all.filter((one) => (one - string) * heading > 0).sort((a, b) => (a - b) * heading);
  const behind = all.filter((one) => (one - string) * heading < 0).sort((a, b) => (b - a) * heading);
  return [...ahead, ...behind].find((one) => !isRead(readings, one)) ?? null;
}
