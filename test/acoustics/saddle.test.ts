import { expect, test } from 'vitest';
import { kappa, saddleLeverage } from '../../src/acoustics/frets.ts';
import { rise, evenShare, sharedCents } from '../../src/acoustics/rise.ts';
import { frettedCents, moveCents, moveCentsLinear, moveForCents } from '../../src/acoustics/saddle.ts';

const guitar = { scaleMm: 648, setbackMm: 0 };

test('frettedCents is zero at every fret when nothing is set back (the equal-tempered fret positions)', () => {
  for (let fret = 0; fret <= 24; fret++) expect(frettedCents(fret, guitar)).toBeCloseTo(0, 10);
});

// Independent derivation: halving 650 mm to 325 mm plus 1 mm of setback sounds 651/326 of the open string.
test('frettedCents follows the lengths of a 650 mm string set back 1 mm', () => {
  expect(frettedCents(12, { scaleMm: 650, setbackMm: 1 })).toBeCloseTo(
    (1200 * Math.log(651 / 326)) / Math.log(2) - 1200,
    10,
  );
});

test('moveCentsLinear is the derivative of moveCents (central difference)', () => {
  for (const fret of [1, 5, 12, 17, 22]) {
    const slope = (moveCents(fret, 1e-4, guitar) - moveCents(fret, -1e-4, guitar)) / 2e-4;
    expect(moveCentsLinear(fret, 1, 648)).toBeCloseTo(slope, 5);
  }
});

test('moveForCents undoes moveCents for moves back and forward', () => {
  for (const moveMm of [-3, -0.5, 0, 0.25, 2])
    for (const fret of [3, 12, 17])
      expect(
        moveForCents(fret, moveCents(fret, moveMm, { scaleMm: 864, setbackMm: 1.5 }), { scaleMm: 864, setbackMm: 1.5 }),
      ).toBeCloseTo(moveMm, 9);
});

// Root finding by bisection, independent of the closed form.
test('moveForCents agrees with bisection on the exact geometry', () => {
  let low = -5;
  let high = 5;
  for (let step = 0; step < 100; step++) {
    const middle = (low + high) / 2;
    if (moveCents(12, middle, guitar) > -3) low = middle;
    else high = middle;
  }
  expect(moveForCents(12, -3, guitar)).toBeCloseTo(low, 9);
});

test('moveForCents refuses fret 0', () => {
  expect(() => moveForCents(0, 1, guitar)).toThrow(
    'Cannot change fret 0 by 1 cents with the saddle; expected a fret from 1 and a reachable change',
  );
});

test('frettedCents refuses a saddle before the fret', () => {
  expect(() => frettedCents(24, { scaleMm: 648, setbackMm: -162 })).toThrow(
    'Cannot stop a 648 mm string with setback -162 mm at fret 24; expected a saddle beyond the fret',
  );
});

test('kappa is the ratio of leverages at the 17th and the 12th', () => {
  expect(kappa).toBeCloseTo(saddleLeverage(17) / saddleLeverage(12), 15);
  expect(kappa).toBeCloseTo(Math.exp((17 / 12) * Math.LN2) - 1, 14);
});

test('rise does not change with the saddle, to first order', () => {
  const moved = { cents12: 1 + moveCentsLinear(12, 0.8, 648), cents17: 4 + moveCentsLinear(17, 0.8, 648) };
  expect(rise(moved.cents12, moved.cents17)).toBeCloseTo(rise(1, 4), 12);
});

test('sharedCents keeps the rise for any share and evens the errors at evenShare', () => {
  for (const share of [0, 0.3, 1]) {
    const { cents12, cents17 } = sharedCents(share, 4);
    expect(rise(cents12, cents17)).toBeCloseTo(4, 12);
  }
  const even = sharedCents(evenShare, 4);
  expect(even.cents12).toBeCloseTo(-even.cents17, 12);
});
