/** Concert pitch A4 in hertz (ISO 16, from memory). */
export const concertPitchHz = 440;

/**
 * Interval from a reference frequency up to a frequency, in cents: positive is sharp.
 *
 * `cents = 1200 log2(hz / referenceHz)` (the definition of the cent, 1200 to the octave).
 *
 * @throws {RangeError} when a frequency is not a positive finite number
 */
export function cents(hz: number, referenceHz: number): number {
  for (const value of [hz, referenceHz])
    if (!(value > 0 && value < Infinity))
      throw new RangeError(`Cannot take cents of ${value} Hz; expected a positive frequency in hertz`);
  return 1200 * Math.log2(hz / referenceHz);
}

/** The frequency `offsetCents` above `referenceHz`; the inverse of {@link cents}. */
export function hzAbove(referenceHz: number, offsetCents: number): number {
  return referenceHz * 2 ** (offsetCents / 1200);
}

const semitoneOf: Record<string, number> = { C: 0, D: 2, E: 4, F: 5, G: 7, A: 9, B: 11 };

/**
 * Frequency in hertz of a note in scientific pitch notation (`A4`, `F#3`, `Bb1`), in equal temperament.
 *
 * @param a4Hz frequency of A4, by default ISO 16's 440 Hz
 * @throws {RangeError} when the name is not a letter A to G, an optional # or b, and an octave number
 */
export function hzOfNote(name: string, a4Hz: number = concertPitchHz): number {
  const match = /^([A-Ga-g])([#b♯♭]?)(-?\d)$/u.exec(name.trim());
  if (!match) throw new RangeError(`Cannot read the note "${name}"; expected a name such as E4, F#3 or Bb1`);
  const [, letter, accidental, octave] = match;
  const shift = accidental === '#' || accidental === '♯' ? 1 : accidental === '' ? 0 : -1;
  const semitonesFromA4 = semitoneOf[letter!.toUpperCase()]! + shift - 9 + 12 * (Number(octave) - 4);
  return hzAbove(a4Hz, 100 * semitonesFromA4);
}
