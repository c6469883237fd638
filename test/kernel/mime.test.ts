import { table } from 'arquero';
import { parseHTML } from 'linkedom';
import { expect, test } from 'vitest';
import { mime, mimeBundle } from '../../src/kernel/mime.ts';

test('mimeBundle shows nothing for undefined, and text for simple values', () => {
  expect(mimeBundle(undefined)).toBe(null);
  expect(mimeBundle(null)).toEqual({ 'text/plain': 'null' });
  expect(mimeBundle('a\nb')).toEqual({ 'text/plain': 'a\nb' });
  expect(mimeBundle([1, 'two'])).toEqual({ 'text/plain': "[ 1, 'two' ]" });
  expect(mimeBundle(new Map([['a', 1]]))).toEqual({ 'text/plain': "Map(1) { 'a' => 1 }" });
});

test('mimeBundle takes the representation a value brings', () => {
  class Interval {
    constructor(readonly low: number) {}
    [Symbol.for('upneck.mime')](): object {
      return { 'text/html': `<i>${this.low}</i>`, 'text/plain': String(this.low) };
    }
  }
  expect(mimeBundle(new Interval(2))).toEqual({ 'text/html': '<i>2</i>', 'text/plain': '2' });
  const bad =
    (bundle: unknown): (() => unknown) =>
    () =>
      mimeBundle({ [Symbol.for('upneck.mime')]: () => bundle });
  expect(bad('text')).toThrow("The upneck.mime method returned 'text'; expected an object from MIME type to content");
  expect(bad({ html: 'x' })).toThrow('returned the key "html"; expected a MIME type such as text/html');
});

test('mimeBundle shows SVG elements as whole SVG documents, and other elements as HTML', () => {
  const { document } = parseHTML(
    '<body><svg aria-label="a line"><title>t</title></svg><figure title="f">x</figure></body>',
  );
  const svg = mimeBundle(document.querySelector('svg'));
  expect(svg).toEqual({
    'image/svg+xml': '<svg xmlns="http://www.w3.org/2000/svg" aria-label="a line"><title>t</title></svg>',
    'text/plain': 'a line',
  });
  expect(mimeBundle(document.querySelector('figure'))).toEqual({
    'text/html': '<figure title="f">x</figure>',
    'text/plain': 'f',
  });
});

test('mimeBundle shows a table with its row count, in three forms', () => {
  const bundle = mimeBundle(table({ model: ['<img onerror=alert(1)>', null], cents: [1.5, -22] }))!;
  const { document } = parseHTML(String(bundle['text/html']));
  expect(document.querySelector('caption')!.textContent).toBe('2 rows');
  expect([...document.querySelectorAll('th[scope=col]')].map((cell) => cell.textContent)).toEqual(['model', 'cents']);
  expect([...document.querySelectorAll('td')].map((cell) => cell.textContent)).toEqual([
    '<img onerror=alert(1)>',
    '1.5',
    '',
    '-22',
  ]);
  expect(document.querySelector('img')).toBe(null);
  expect(bundle['text/plain']).toBe(
    'model                   cents\n----------------------  -----\n<img onerror=alert(1)>    1.5\n                          -22\n(2 rows)',
  );
  expect(bundle['application/json']).toEqual({
    rows: 2,
    columns: ['model', 'cents'],
    data: [
      { model: '<img onerror=alert(1)>', cents: 1.5 },
      { model: null, cents: -22 },
    ],
  });
});

test('mimeBundle caps a long table and says so, and keeps its text within 80 columns', () => {
  const long = table(
    Object.fromEntries(
      Array.from({ length: 12 }, (_, column) => [`column${column}`, Array.from({ length: 1234 }, (_, row) => row)]),
    ),
  );
  const bundle = mimeBundle(long)!;
  const { document } = parseHTML(String(bundle['text/html']));
  expect(document.querySelector('caption')!.textContent).toBe('First 50 of 1234 rows');
  expect(document.querySelectorAll('tbody tr').length).toBe(50);
  const lines = String(bundle['text/plain']).split('\n');
  expect(Math.max(...lines.slice(0, -1).map((line) => line.length))).toBeLessThanOrEqual(80);
  // Nine columns of 7 characters and two spaces between them are 79 wide.
  expect(lines.at(-1)).toBe('(First 50 of 1234 rows; 3 more columns: column9, column10, column11)');
});

test('mimeBundle cuts a text nobody can read', () => {
  const text = String(mimeBundle('x'.repeat(100_005))!['text/plain']);
  expect(text.slice(99_999)).toBe('x\n... 5 more characters');
});

test('mime gives values a form', () => {
  expect(mimeBundle(mime.markdown('*a*'))).toEqual({ 'text/markdown': '*a*', 'text/plain': '*a*' });
  expect(mimeBundle(mime.html('<b>a</b>'))).toEqual({ 'text/html': '<b>a</b>', 'text/plain': 'a' });
  // PNG (ISO/IEC 15948), section 5.2: the signature 137 80 78 71 13 10 26 10.
  const png = new Uint8Array([137, 80, 78, 71, 13, 10, 26, 10]);
  expect(mimeBundle(mime.image(png, 'dot'))).toEqual({ 'image/png': 'iVBORw0KGgo=', 'text/plain': 'dot' });
  expect(() => mime.image(new Uint8Array([1, 2]))).toThrow('Cannot show these 2 bytes as a picture');
  expect(mimeBundle(mime.audio(new TextEncoder().encode('RIFF'), 'a tone'))).toEqual({
    'audio/wav': 'UklGRg==',
    'text/plain': 'a tone',
  });
});
