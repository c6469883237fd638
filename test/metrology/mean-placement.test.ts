import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { caliperLog, truth } from '../../data/caliper/generate.ts';
import { ratioPlacement, ruleOfEighteen } from '../../src/acoustics/placement.ts';
import { readFretPositions } from '../../src/logs/fret-positions.ts';
import { fitPlacement } from '../../src/metrology/fit-placement.ts';
import { meanPlacement } from '../../src/metrology/mean-placement.ts';

test('meanPlacement takes the mean of each fret, in any order of reading', () => {
  const readings = [
    { fret: 2, nutToFretMm: 70 },
    { fret: 1, nutToFretMm: 36 },
    { fret: 2, nutToFretMm: 71 },
  ];
  expect(meanPlacement(readings, 648)).toEqual({ scaleMm: 648, nutToFretMm: [0, 36, 70.5] });
});

test('meanPlacement refuses a neck with a fret left out', () => {
  expect(() => meanPlacement([{ fret: 2, nutToFretMm: 70 }], 648)).toThrow(
    new RangeError('Cannot place fret 1: no reading of it; expected one of each fret from 1 to 2'),
  );
});

const committed = readFileSync('data/caliper/wicket-6.csv', 'utf8');

test('the caliper log of the demo is what its generator writes', () => {
  expect(committed).toBe(caliperLog());
});

test('readFretPositions and fitPlacement find what the demo neck was made from', () => {
  const { positions, problems } = readFretPositions(committed, 'wicket-6.csv');
  expect(problems).toEqual([]);
  expect(positions).toHaveLength(truth.frets * truth.rounds);
  const [eighteen, equal] = [ratioPlacement(1, truth.frets, ruleOfEighteen), undefined].map((pattern) =>
    fitPlacement(positions, pattern ? { pattern } : {}),
  );
  expect(eighteen!.spreadMm).toBeLessThan(equal!.spreadMm / 2);
  const { scaleMm, nutSetbackMm, frets } = eighteen!;
  expect(scaleMm.low < truth.scaleMm && truth.scaleMm < scaleMm.high).toBe(true);
  expect(nutSetbackMm.low < truth.nutSetbackMm && truth.nutSetbackMm < nutSetbackMm.high).toBe(true);
  const worst = frets.reduce((most, fret) => (fret.adjustedP < most.adjustedP ? fret : most));
  expect(worst.fret).toBe(truth.wrongFret.fret);
});
