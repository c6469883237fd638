import type { LoggedReading } from '../../logs/append-log.ts';

/** Where the bench is: what the next reading is of, as far as it is not typed. */
export interface Place {
  readonly instrument: string;
  readonly model: string;
  readonly pass: number;
  readonly string: number | null;
  /** Whether the technician goes through the strings upward or downward. */
  readonly heading: 1 | -1;
  /** What the open string reads and where its saddle stands, as typed: they go with the string's readings from then on. */
  readonly open: string | undefined;
  readonly saddle: string | undefined;
}

/** The readings of an instrument, of any pass. */
export function ofInstrument(readings: readonly LoggedReading[], instrument: string): LoggedReading[] {
  return readings.filter((one) => one.instrument === instrument);
}

/** The readings of the place's instrument at its pass. */
export function readHere(readings: readonly LoggedReading[], { instrument, pass }: Place): LoggedReading[] {
  return ofInstrument(readings, instrument).filter((one) => one.pass === pass);
}

/** The same place at another string. */
export function atString(place: Place, string: number): Place {
  if (string === place.string) return place;
  const heading = place.string === null ? place.heading : string > place.string ? 1 : -1;
  return { ...place, string, heading, open: undefined, saddle: undefined };
}

/**
 * An instrument at a pass, at the string that the readings there leave off at, or the first one not read.
 *
 * @param strings number of strings; undefined where the model is not known
 */
export function placeAt(
  readings: readonly LoggedReading[],
  { instrument, model, pass }: { readonly instrument: string; readonly model: string; readonly pass: number },
  { strings, heading }: { readonly strings: number | undefined; readonly heading: 1 | -1 },
): Place {
  const at: Place = { instrument, model, pass, string: null, heading, open: undefined, saddle: undefined };
  const here = readHere(readings, at);
  const last = here.at(-1)?.string;
  if (last !== undefined && nextFret(here, last) !== null) return { ...at, string: last };
  const from = last ?? (heading === 1 || strings === undefined ? 0 : strings + 1);
  return { ...at, string: nextString(here, { string: from, heading, strings }) ?? last ?? null };
}

/** The fret to read next on a string, of those a saddle is set by: the 12th, then the 17th, then none. */
export function nextFret(here: readonly LoggedReading[], string: number): 12 | 17 | null {
  const read = (fret: number): boolean => here.some((one) => one.string === string && one.fret === fret);
  return !read(12) ? 12 : !read(17) ? 17 : null;
}

/**
 * The string to go to after `string`: the nearest in the direction last gone that is not read yet, else the nearest the other
 * way; with an unknown model simply the next one.
 *
 * @returns null where all are read
 */
export function nextString(
  here: readonly LoggedReading[],
  {
    string,
    heading,
    strings,
  }: { readonly string: number; readonly heading: 1 | -1; readonly strings: number | undefined },
): number | null {
  if (strings === undefined) {
    const next = string + heading;
    return next >= 1 && next <= mostStrings ? next : null;
  }
  const unread = Array.from({ length: strings }, (_, at) => at + 1).filter(
    (one) => one !== string && nextFret(here, one) !== null,
  );
  const nearest = unread.sort((a, b) => Math.abs(a - string) - Math.abs(b - string));
  return nearest.find((one) => (one - string) * heading > 0) ?? nearest[0] ?? null;
}

/** The most strings and frets that a log can hold. */
export const mostStrings = 12;
export const mostFrets = 36;
