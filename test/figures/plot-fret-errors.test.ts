import { expect, test } from 'vitest';
import { equalPlacement } from '../../src/acoustics/placement.ts';
import { plotFretErrors } from '../../src/figures/plot-fret-errors.ts';
import { fitPlacement } from '../../src/metrology/fit-placement.ts';
import { all, parsed, texts } from './drawing.ts';

/** A neck of 12 frets on 600 mm read with an error of 0.02 mm; `moved` says which frets stand off, in mm. */
function invented(moved: Readonly<Record<number, number>>): ReturnType<typeof fitPlacement> {
  const { nutToFretMm } = equalPlacement(600, 12);
  const readings = nutToFretMm.map((mm, fret) => ({ fret, nutToFretMm: mm + (moved[fret] ?? 0) })).slice(1);
  return fitPlacement(readings, { readingSdMm: 0.02 });
}
const fit = invented({ 7: -0.4 });
const figure = plotFretErrors(fit, 'Fern');
const fret7 = fit.frets[6]!;

test('plotFretErrors names the fret that is off in the title, with mm and cents', () => {
  const mm = Math.abs(fret7.errorMm).toFixed(2);
  expect(figure.title).toBe(`Frets of Fern: 1 fret off (fret 7 −${mm} mm, −${Math.abs(fret7.cents).toFixed(1)} cents)`);
  expect(figure.description).toContain(`fret 7 −${mm} mm`);
  expect(figure.description).toContain(`Scale length ${fit.scaleMm.estimate.toFixed(2)} mm`);
  expect(figure.description).toContain('one reading errs by 0.020 mm (as given).');
});

test('plotFretErrors says so when reading error explains all frets', () => {
  expect(plotFretErrors(invented({ 3: 0.02 }), 'Fern').title).toMatch(/all within reading error, at most 0\.0[12] mm$/);
});

test('plotFretErrors draws every fret at its error, the one off its place filled, and its cents', () => {
  const circles = all(figure, '[aria-label=dot] circle');
  expect(circles).toHaveLength(12 + 1);
  const y = circles.slice(0, 12).map((circle) => Number(circle.getAttribute('cy')));
  // Pixels grow downward in proportion to the error.
  const [a, b, c] = [fit.frets[6]!, fit.frets[0]!, fit.frets[11]!].map(({ errorMm }) => errorMm);
  expect((y[6]! - y[0]!) / (y[11]! - y[0]!)).toBeCloseTo((a! - b!) / (c! - b!), 1);
  expect(y[6]).toBe(Math.max(...y));
  expect(Number(circles[12]!.getAttribute('cy'))).toBeCloseTo(y[6]!, 1);
  expect(texts(figure)).toContain(`−${Math.abs(fret7.cents).toFixed(1)}`);
});

test('plotFretErrors exports every fret with its interval and verdict', () => {
  expect(figure.data).toHaveLength(12);
  expect(figure.data[6]).toEqual({ name: 'Fern', ...fret7, offItsPlace: true });
  expect(figure.data.filter(({ offItsPlace }) => offItsPlace)).toHaveLength(1);
});

test('plotFretErrors says when most frets are off, and labels only the farthest', () => {
  const bent = Object.fromEntries(Array.from({ length: 12 }, (_, at) => [at + 1, 0.03 * (at - 5.5) ** 2]));
  const other = plotFretErrors(invented(bent), 'Fern');
  expect(other.data.filter(({ offItsPlace }) => offItsPlace).length).toBeGreaterThan(6);
  expect(texts(other).join(' ')).toContain('they may have been laid out by another pattern');
  expect(all(other, '[aria-label=text] text')).toHaveLength(6);
  expect(parsed(other).getAttribute('width')).toBe('640');
});
