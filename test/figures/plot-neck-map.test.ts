import { expect, test } from 'vitest';
import { plotNeckMap } from '../../src/figures/plot-neck-map.ts';
import { instrumentNeckMap } from '../../src/policy/instrument-map.ts';
import { modelNeckMap, type NeckMap } from '../../src/policy/neck-map.ts';
import { all, placed, texts } from './drawing.ts';
import { inventedStandard, inventedTrend } from './invented-trend.ts';

const trend = inventedTrend({ models: ['Fern'], rises: [3, 2, 6], nut: 0.5 });
const { standard } = inventedStandard(trend);
const options = { trend, standard, specs: [] };
const map = modelNeckMap('Fern', { ...options, from: '12th exact' });
const figure = plotNeckMap(map, 3);

/** What a figure writes into its squares: plain text marks of signed numbers with a decimal, with their place. */
function numbers(of: typeof figure): { text: string; x: number; y: number }[] {
  return all(of, '[aria-label=text] text')
    .filter((text) => /^[+−]?\d+\.\d$/.test(text.textContent ?? ''))
    .map((text) => {
      const [x, y] = placed(text);
      return { text: text.textContent ?? '', x, y };
    });
}

test('plotNeckMap writes the error of every note twice, sign and one decimal', () => {
  const written = numbers(figure).map(({ text }) => text);
  const wanted = (['before', 'after'] as const).flatMap((side) =>
    map.strings.flatMap((string) =>
      string[side].map(({ cents }) => {
        const size = Math.abs(cents).toFixed(1);
        return size === '0.0' ? size : `${cents < 0 ? '−' : '+'}${size}`;
      }),
    ),
  );
  expect(written).toEqual(wanted);
  expect(written).toHaveLength(2 * 3 * 22);
});

test('plotNeckMap puts string 1 at the right and the frets below the nut', () => {
  const [open, first] = numbers(figure);
  const lastString = numbers(figure)[2 * 22]!;
  expect(first!.y).toBeGreaterThan(open!.y);
  expect(lastString.x).toBeLessThan(open!.x);
});

test('plotNeckMap frames what is beyond the threshold, and in dashes what may be', () => {
  const notes = map.strings.flatMap(({ before, after }) => [...before, ...after]);
  const beyond = notes.filter(({ cents }) => Math.abs(cents) > 3);
  const maybe = notes.filter((note) => Math.abs(note.cents) <= 3 && (note.low < -3 || note.high > 3));
  const framed = all(figure, '[aria-label=cell][stroke=currentColor]');
  const count = (isDashed: boolean): number =>
    framed
      .filter((group) => (group.getAttribute('stroke-dasharray') !== null) === isDashed)
      .reduce((sum, group) => sum + group.querySelectorAll('rect').length, 0);
  expect(beyond.length).toBeGreaterThan(0);
  expect(maybe.length).toBeGreaterThan(0);
  expect([count(false), count(true)]).toEqual([beyond.length, maybe.length]);
  const [before, after] = (['before', 'after'] as const).map(
    (side) => map.strings.flatMap((one) => one[side]).filter(({ cents }) => Math.abs(cents) > 3).length,
  );
  expect(figure.title).toBe(
    `Neck of Fern: ${before} of 63 notes beyond ±3 cents with the 12th exact, ${after} by the standard`,
  );
});

test('plotNeckMap shades an error the deeper the larger it is', () => {
  const squares = all(figure, '[aria-label=cell]:not([stroke]) rect');
  const cents = (['before', 'after'] as const).flatMap((side) =>
    map.strings.flatMap((string) => string[side].map((note) => note.cents)),
  );
  expect(squares).toHaveLength(cents.length);
  const depth = squares.map((square) => Number(square.getAttribute('fill-opacity')));
  cents.forEach((one, at) => {
    expect(depth[at]).toBeCloseTo(0.5 * Math.min(1, Math.abs(one) / 4.5), 6);
  });
});

// WCAG 2.2, success criterion 1.4.3: 4.5 to 1. Paper and ink of shared/page.css; a shade is the ink of the palette mixed in.
test.each([
  ['light', '#fdfcf9', '#1f1d1a'],
  ['dark', '#191816', '#e9e5dc'],
])('plotNeckMap keeps its numbers readable on the deepest shades in the %s', (_, paper, ink) => {
  const parts = (hex: string): number[] => [1, 3, 5].map((at) => parseInt(hex.slice(at, at + 2), 16) / 255);
  const luminance = (rgb: number[]): number => {
    const [r, g, b] = rgb.map((part) => (part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r! + 0.7152 * g! + 0.0722 * b!;
  };
  const squares = all(figure, '[aria-label=cell]:not([stroke]) rect');
  for (const square of squares) {
    const opacity = Number(square.getAttribute('fill-opacity'));
    const fill = parts(square.getAttribute('fill')!);
    const mixed = parts(paper).map((part, at) => part * (1 - opacity) + fill[at]! * opacity);
    const [light, dark] = [luminance(mixed), luminance(parts(ink))].sort((a, b) => b - a);
    expect((light! + 0.05) / (dark! + 0.05)).toBeGreaterThan(4.5);
  }
});

test('plotNeckMap dots the notes of an instrument that were read, and gives every number for export', () => {
  const one = instrumentNeckMap('Fern-1', options);
  const drawn = plotNeckMap(one, 3);
  // Three strings read at frets 5, 12 and 17, before and after.
  expect(all(drawn, '[aria-label=dot] circle')).toHaveLength(2 * 3 * 3);
  expect(all(figure, '[aria-label=dot] circle')).toHaveLength(0);
  expect(texts(drawn).join(' ')).toContain('Dot: from a reading of this very note');
  expect(drawn.title).toMatch(
    /^Neck of Fern-1, Fern: \d+ of 63 notes beyond ±3 cents as received, \d+ by the standard$/,
  );
  expect(drawn.data).toHaveLength(3 * 22);
  const { before, after } = one.strings[1]!;
  expect(drawn.data[22 + 12]).toEqual({
    model: 'Fern',
    instrument: 'Fern-1',
    string: 2,
    fret: 12,
    read: true,
    before: before[12]!.cents,
    beforeLow: before[12]!.low,
    beforeHigh: before[12]!.high,
    after: after[12]!.cents,
    afterLow: after[12]!.low,
    afterHigh: after[12]!.high,
  });
});

test('plotNeckMap tells the largest error of each string with its range, and what is not shown', () => {
  const most = map.strings[2]!.before[21]!;
  const signed = (cents: number): string => `${cents < 0 ? '−' : '+'}${Math.abs(cents).toFixed(1)}`;
  expect(figure.description).toContain(
    `string 3 ${signed(most.cents)} at fret 21 (95 % ${signed(most.low)} to ${signed(most.high)})`,
  );
  const partly: NeckMap = { ...map, strings: map.strings.slice(1), unread: [1] };
  expect(plotNeckMap(partly, 3).description).toContain('Not shown, since not read: string 1.');
});

test('plotNeckMap says when nut offsets count as 0, as with readings at the 12th and the 17th alone', () => {
  const silent = inventedTrend({ models: ['Fern'], nut: 0, frets: [12, 17] });
  const unknown = modelNeckMap('Fern', {
    trend: silent,
    standard: inventedStandard(silent).standard,
    specs: [],
    from: '12th exact',
  });
  expect(texts(plotNeckMap(unknown, 3)).join(' ')).toContain('Nut offsets are not known and count as 0');
  expect(texts(figure).join(' ')).not.toContain('Nut offsets');
});

test('plotNeckMap sets necks of many strings one below the other', () => {
  const many: NeckMap = {
    ...map,
    strings: Array.from({ length: 12 }, (_, at) => ({ ...map.strings[0]!, string: at + 1 })),
  };
  const xs = numbers(plotNeckMap(many, 3)).map(({ x }) => x);
  // Twelve columns over the whole width, the last square far to the right.
  expect(new Set(xs).size).toBe(12);
  expect(Math.max(...xs)).toBeGreaterThan(560);
});
