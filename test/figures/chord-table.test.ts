import { parseHTML } from 'linkedom';
import { expect, test } from 'vitest';
import { chordTable } from '../../src/figures/chord-table.ts';
import { mimeSymbol } from '../../src/figures/figure.ts';
import { checkChords } from '../../src/policy/chord-check.ts';
import { readShapes } from '../../src/policy/chord-shapes.ts';
import type { NeckMap } from '../../src/policy/neck-map.ts';

const note = (cents: number) => ({ cents, low: cents, high: cents, isRead: false });
/** Four strings, a fret or two of which err: string 3 at fret 5 by +4 before and -1 after. */
const map: NeckMap = {
  model: '<b>Fern</b>',
  instrument: null,
  before: 'as received',
  frets: 12,
  strings: [1, 2, 3, 4].map((string) => ({
    string,
    before: Array.from({ length: 13 }, (_, fret) => note(string === 3 && fret === 5 ? 4 : 0)),
    after: Array.from({ length: 13 }, (_, fret) => note(string === 3 && fret === 5 ? -1 : 0)),
  })),
  unread: [],
  isNutKnown: true,
};
const shapes = readShapes(
  [
    'shape,tuning,frets',
    'fifth,G2|D2|A1|E1,x|x|5|3',
    'semitone,G2|D2|A1|E1,x|x|5|11',
    'out of reach,G2|D2|A1|E1,14|12|x|x',
    ...[1, 2, 3, 4, 5, 6, 7].map((at) => `six ${at},E4|B3|G3|D3|A2|E2,0|0|0|0|0|0`),
  ].join('\n'),
  'shapes.csv',
);
const check = checkChords(map, shapes, []);
const shown = chordTable(check)[mimeSymbol]();
const { document } = parseHTML(`<body>${shown['text/html']}</body>`);

// By hand: G1 is 48.9994 Hz and D2 73.4162 Hz in equal temperament; 3 * 48.9994 - 2 * 73.4162 = 0.166 Hz. D2 4 cents
// sharp is 73.5860: 0.174 the other way. D2 1 cent flat is 73.3738: 0.251.
test('chordTable tells strings, cents and beats of the worst interval, before and after', () => {
  const rows = [...document.querySelectorAll('tbody tr')].map((row) =>
    [...row.querySelectorAll('th, td')].map((cell) => cell.textContent),
  );
  expect(rows).toEqual([
    ['fifth', 'x x 5 3', '4 and 3', '+4.0', '0.2 (0.2)', '4 and 3', '−1.0', '0.3 (0.2)'],
    ['semitone', 'x x 5 11', '3 and 4', '−4.0', 'none', '3 and 4', '+1.0', 'none'],
  ]);
});

test('chordTable names the model without running it, the sides, and the tuning it took', () => {
  expect(document.querySelector('caption')!.textContent).toContain('Chords on the next <b>Fern</b>');
  expect(document.querySelector('caption')!.textContent).toContain('The usual tuning is assumed');
  expect(document.querySelector('b')).toBeNull();
  const head = [...document.querySelectorAll('thead th')].map((cell) => cell.textContent);
  expect(head).toEqual(expect.arrayContaining(['As received', 'By the standard']));
});

test('chordTable says which shapes were left out and why, in at most 80 columns of text', () => {
  const left = [...document.querySelectorAll('p')].map((one) => one.textContent);
  expect(left).toEqual([
    'Left out, since the instrument has 12 frets, the shape needs 14: 1 shape (out of reach).',
    'Left out, since the instrument has 4 strings, the shape is for 6: 7 shapes (six 1; six 2; six 3; six 4; six 5; ...).',
  ]);
  const text = shown['text/plain'];
  expect(Math.max(...text.split('\n').map((line) => line.length))).toBeLessThanOrEqual(80);
  expect(text.replace(/\s+/g, ' ')).toContain(left[1]);
  expect(text).toMatch(/^fifth +4-3 +\+4\.0 +0\.2 \(0\.2\) +4-3 +−1\.0 +0\.3 \(0\.2\)$/m);
});

test('chordTable draws no table where no shape fits', () => {
  const none = chordTable(checkChords(map, shapes.slice(3), []))[mimeSymbol]();
  expect(none['text/html']).toMatch(/^<p>Left out, since the instrument has 4 strings, the shape is for 6: 7 shapes/);
  expect(none['text/plain']).toMatch(/^Left out, since/);
});
