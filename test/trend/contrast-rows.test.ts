import { table } from 'arquero';
import { expect, test } from 'vitest';
import { kappa, riseShape, saddleLeverage } from '../../src/acoustics/frets.ts';
import { sumReadings } from '../../src/sources/block-sums.ts';
import { projectSaddle } from '../../src/trend/contrast-rows.ts';

type Row = [instrument: string, string: number, pass: number, fret: number, cents: number, technician?: string];
const sumsOf = (rows: readonly Row[]): ReturnType<typeof sumReadings> =>
  sumReadings(
    table({
      instrument: rows.map((row) => row[0]),
      model: rows.map(() => 'M'),
      string: rows.map((row) => row[1]),
      pass: rows.map((row) => row[2]),
      fret: rows.map((row) => row[3]),
      cents: rows.map((row) => row[4]),
      technician: rows.map((row) => row[5] ?? null),
    }),
  );
const dense = [1, 5, 9, 12, 15, 17, 19];
const reading = (fret: number, saddle: number): number => 0.4 + 3 * riseShape(fret) + saddle * saddleLeverage(fret);

test('projectSaddle leaves the rise t / sqrt(1 + kappa^2) of a 12th and a 17th', () => {
  const rows = projectSaddle(
    sumsOf([
      ['i', 1, 0, 12, 1],
      ['i', 1, 0, 17, 4],
    ]),
  );
  expect(rows.response).toHaveLength(1);
  expect(Math.abs(rows.response[0]!)).toBeCloseTo(Math.abs(4 - kappa) / Math.hypot(1, kappa), 12);
  expect(rows.response[0]! / rows.rise[0]!).toBeCloseTo(4 - kappa, 12);
  expect(rows.nut[0]! / rows.rise[0]!).toBeCloseTo(1 - kappa, 12);
});

test('projectSaddle gives the same rows wherever the saddle stands', () => {
  const at = (saddle: number): Float64Array =>
    projectSaddle(sumsOf(dense.map((fret): Row => ['i', 1, 0, fret, reading(fret, saddle)]))).response;
  const here = at(0);
  at(-5).forEach((value, row) => expect(value).toBeCloseTo(here[row]!, 12));
});

test('projectSaddle recovers nut and rise exactly from noise-free readings', () => {
  const rows = projectSaddle(sumsOf(dense.map((fret): Row => ['i', 1, 0, fret, reading(fret, 2)])));
  rows.response.forEach((value, row) => expect(value).toBeCloseTo(0.4 * rows.nut[row]! + 3 * rows.rise[row]!, 12));
});

// Least squares with the saddle as a column, by the normal equations in three unknowns: independent of the reflection.
test('projectSaddle keeps the residual sum of squares of a regression that fits the saddle', () => {
  const noise = [0.3, -0.2, 0.1, 0.5, -0.4, 0.2, -0.1];
  const y = dense.map((fret, at) => reading(fret, 1) + noise[at]!);
  const columns = [dense.map(saddleLeverage), dense.map(() => 1), dense.map(riseShape)];
  const direct = residualSquares(columns, y);
  const rows = projectSaddle(sumsOf(dense.map((fret, at): Row => ['i', 1, 0, fret, y[at]!])));
  expect(residualSquares([[...rows.nut], [...rows.rise]], [...rows.response])).toBeCloseTo(direct, 10);
});

test('projectSaddle carries the spread of repeats in rows without effect', () => {
  const rows = projectSaddle(
    sumsOf([
      ['i', 1, 0, 12, 1],
      ['i', 1, 0, 12, 2],
      ['i', 1, 0, 12, 4.5],
      ['i', 1, 0, 17, 4],
    ]),
  );
  const within = [...rows.response].filter((_, row) => rows.rise[row] === 0);
  const mean = (1 + 2 + 4.5) / 3;
  expect(within).toHaveLength(2);
  expect(within.reduce((sum, value) => sum + value ** 2, 0)).toBeCloseTo(
    (1 - mean) ** 2 + (2 - mean) ** 2 + (4.5 - mean) ** 2,
    12,
  );
});

test('projectSaddle splits a block between the technicians who read it', () => {
  const rows = projectSaddle(
    sumsOf([
      ['i', 1, 0, 12, 1, 'a'],
      ['i', 1, 0, 17, 4, 'b'],
    ]),
  );
  const [a, b] = rows.riseByTechnician;
  expect(a![0]! + b![0]!).toBeCloseTo(rows.rise[0]!, 12);
  expect(a![0]!).toBe(0);
});

function residualSquares(columns: readonly number[][], y: readonly number[]): number {
  // Gram-Schmidt, twice over for accuracy.
  const left = [...y];
  const basis: number[][] = [];
  for (const column of columns) {
    const q = [...column];
    for (let twice = 0; twice < 2; twice++)
      for (const done of basis) {
        const along = done.reduce((sum, x, at) => sum + x * q[at]!, 0);
        done.forEach((x, at) => (q[at]! -= along * x));
      }
    const length = Math.hypot(...q);
    basis.push(q.map((x) => x / length));
  }
  for (const q of basis) {
    const along = q.reduce((sum, x, at) => sum + x * left[at]!, 0);
    q.forEach((x, at) => (left[at]! -= along * x));
  }
  return left.reduce((sum, x) => sum + x * x, 0);
}
