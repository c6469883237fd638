import { expect, test } from 'vitest';
import {
  equalPlacement,
  measuredPlacement,
  noSetback,
  placedCents,
  placedNotes,
  ratioPlacement,
  ruleOfEighteen,
  temperedPlacement,
  tolerances,
} from '../../src/acoustics/placement.ts';
import { frettedCents } from '../../src/acoustics/saddle.ts';

// The fret constant 17.817: M. Koch, "Building Electric Guitars", section "Calculating fret distances": the scale length
// over it is the distance from the nut to the first fret.
test('equalPlacement puts the first fret at the scale length over 17.817', () => {
  const { nutToFretMm } = equalPlacement(648, 24);
  expect(648 / nutToFretMm[1]!).toBeCloseTo(17.817, 3);
  expect(nutToFretMm).toHaveLength(25);
});

// A printed table of distances from bridge to fret on a scale of 25 inches, to a thousandth of an inch: "Guitar Bits 'n'
// Bobs", stuphi.co.uk (2009).
test('equalPlacement gives a printed table of ten frets to its thousandth of an inch', () => {
  const printed = [23.597, 22.272, 21.022, 19.843, 18.729, 17.678, 16.685, 15.749, 14.865, 14.031];
  const { nutToFretMm } = equalPlacement(25, 10);
  printed.forEach((inches, at) => expect(25 - nutToFretMm[at + 1]!, `fret ${at + 1}`).toBeCloseTo(inches, 3));
});

// A semitone of 18/17 is 98.95 cents: J. M. Barbour, "Tuning and Temperament", on Vincenzo Galilei's lute (from memory), so
// that twelve of them fall short of the octave by 1200 - 12 * 98.9546 = 12.54.
test('ratioPlacement by the rule of eighteen is 1.05 cents flat at fret 1 and 12.54 at fret 12', () => {
  const placement = ratioPlacement(650, 12, ruleOfEighteen);
  expect(100 + placedCents(1, placement)).toBeCloseTo(98.95, 2);
  expect(placedCents(12, placement)).toBeCloseTo(-12.54, 2);
  expect(placement.nutToFretMm[1]).toBeCloseTo(650 / 18, 10);
});

// Pure intervals divide the string in whole numbers (Pythagoras): 3:2 at a third, 4:3 at a quarter, 2:1 at half of it.
test('temperedPlacement puts pure intervals where the string divides in whole numbers', () => {
  const just = [9 / 8, 5 / 4, 4 / 3, 3 / 2, 2].map((ratio) => 1200 * Math.log2(ratio));
  const { nutToFretMm } = temperedPlacement(600, just);
  [0, 600 / 9, 600 / 5, 600 / 4, 600 / 3, 600 / 2].forEach((mm, fret) => expect(nutToFretMm[fret]).toBeCloseTo(mm, 9));
});

test('placedCents is frettedCents on equal temperament, and 0 for the open string', () => {
  const placement = equalPlacement(648, 24);
  for (const setbackMm of [-1, 0, 2.5])
    for (let fret = 0; fret <= 24; fret++)
      expect(placedCents(fret, placement, { setbackMm, nutSetbackMm: 0 })).toBeCloseTo(
        frettedCents(fret, { scaleMm: 648, setbackMm }),
        10,
      );
});

// By hand: 650 + 2 - 0.5 = 651.5 mm sounds open, 650 - 300 + 2 = 352 mm stopped.
test('placedCents takes the open string with nut and saddle set back, the stopped one with the saddle alone', () => {
  const placement = measuredPlacement(650, [300]);
  expect(placedCents(1, placement, { setbackMm: 2, nutSetbackMm: -0.5 })).toBeCloseTo(
    (1200 * Math.log(651.5 / 352)) / Math.LN2 - 100,
    10,
  );
});

// A nut wrong by a mm shifts every fretted note by the same 1731.23 a / L cents (to first order).
test('placedCents shifts every fret alike for a nut that stands wrong', () => {
  const placement = equalPlacement(648, 20);
  for (let fret = 1; fret <= 20; fret++)
    expect(placedCents(fret, placement, { setbackMm: 0, nutSetbackMm: 0.3 })).toBeCloseTo(
      (1200 / Math.LN2) * Math.log1p(0.3 / 648),
      10,
    );
});

test('placedNotes gives every string of a fanned fingerboard its own lengths', () => {
  const notes = placedNotes([
    { placement: equalPlacement(648, 12) },
    { placement: ratioPlacement(686, 12, ruleOfEighteen), ends: { setbackMm: 1, nutSetbackMm: 0 } },
  ]);
  expect(notes).toHaveLength(24);
  expect(notes[11]).toEqual({ string: 1, fret: 12, nutToFretMm: 324, cents: expect.closeTo(0, 10) as number });
  expect(notes[23]).toMatchObject({ string: 2, fret: 12 });
  expect(notes[23]!.cents).toBeCloseTo(1200 * Math.log2(687 / (686 * (17 / 18) ** 12 + 1)) - 1200, 10);
});

// First order, by the derivative of the logarithm: 1731.234 * 0.1 / 324 = 0.5343 at the 12th of a 648 mm string.
test('tolerances of a tenth of a millimetre are the derivatives of the length, to first order', () => {
  const at = tolerances(equalPlacement(648, 24));
  const perMm = 1200 / Math.LN2;
  for (const { fret, fretCents, saddleCents, nutCents } of at) {
    const stopped = 648 * 2 ** (-fret / 12);
    expect(fretCents / ((perMm * 0.1) / stopped)).toBeCloseTo(1, 2);
    expect(saddleCents / (perMm * 0.1 * (1 / stopped - 1 / 648))).toBeCloseTo(1, 2);
    expect(nutCents / ((perMm * 0.1) / 648)).toBeCloseTo(1, 3);
  }
  expect(at[11]!.fretCents).toBeCloseTo(0.5343, 3);
});

test('tolerances grow in proportion to the error for small errors', () => {
  const placement = equalPlacement(864, 24);
  const [fine, coarse] = [0.001, 0.002].map((mm) => tolerances(placement, noSetback, mm)[23]!.fretCents);
  expect(coarse! / fine!).toBeCloseTo(2, 4);
});

test.each<[string, () => unknown, string]>([
  [
    'a scale length of zero',
    () => measuredPlacement(0, [10]),
    'Cannot place frets on a scale length of 0 mm; expected more than 0',
  ],
  [
    'distances that do not increase',
    () => measuredPlacement(648, [36.4, 70.7, 70.1]),
    'Cannot place fret 3 at 70.1 mm from the nut; expected more than 70.7 mm, where fret 2 stands',
  ],
  [
    'a first fret at the nut',
    () => measuredPlacement(648, [0, 70.7]),
    'Cannot place fret 1 at 0 mm from the nut; expected more than 0 mm, where the nut stands',
  ],
  [
    'a fret beyond the scale',
    () => measuredPlacement(648, [36.4, 700]),
    'Cannot place fret 2 at 700 mm from the nut; expected less than the scale length of 648 mm',
  ],
  [
    'a fret at the saddle',
    () => measuredPlacement(648, [36.4, 648]),
    'Cannot place fret 2 at 648 mm from the nut; expected less than the scale length of 648 mm',
  ],
  [
    'inches',
    () => measuredPlacement(647.7, [1.431, 2.782, 4.057]),
    'Cannot place frets: fret 3 at 4.057 of a scale length of 647.7 mm looks like inches; multiply by 25.4',
  ],
  [
    'one fret in inches beside millimetres',
    () => measuredPlacement(647.7, [1.431, 70.66, 103.05]),
    'Cannot place frets: fret 1 at 1.431 of a scale length of 647.7 mm looks like inches; multiply by 25.4',
  ],
  ['a broken fret', () => equalPlacement(648, 21.5), 'Cannot place 21.5 frets; expected a whole number from 0'],
  [
    'frets that are no number',
    () => ratioPlacement(648, NaN, 17 / 18),
    'Cannot place NaN frets; expected a whole number from 0',
  ],
  [
    'a ratio of 18/17',
    () => ratioPlacement(648, 12, 18 / 17),
    'Cannot place frets by the ratio 1.0588235294117647; expected one between 0 and 1, such as 17/18',
  ],
  [
    'intervals that do not increase',
    () => temperedPlacement(648, [100, 90]),
    'Cannot place fret 2 at 90 cents; expected more than the 100 cents before it',
  ],
  [
    'a missing fret',
    () => placedCents(13, equalPlacement(648, 12)),
    'Cannot stop a string at fret 13; expected a fret from 0 to 12',
  ],
  [
    'a nut beyond the fret',
    () => placedCents(1, { scaleMm: 648, nutToFretMm: [0, 36] }, { setbackMm: 0, nutSetbackMm: -40 }),
    'Cannot stop a string at fret 1, 36 mm from a nut set back by -40 mm; expected a nut before the fret',
  ],
  [
    'a saddle before the fret',
    () => placedCents(12, equalPlacement(648, 12), { setbackMm: -324, nutSetbackMm: 0 }),
    'Cannot stop a 648 mm string with setback -324 mm at fret 12; expected a saddle beyond the fret',
  ],
])('placements refuse %s', (_, place, message) => {
  expect(place).toThrow(new RangeError(message));
});
