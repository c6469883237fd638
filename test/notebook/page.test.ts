import { parseHTML } from 'linkedom';
import { expect, test } from 'vitest';
import { parseLitMd } from '../../src/notebook/lit-md.ts';
import type { Output } from '../../src/notebook/output.ts';
import { printPage, type PageOptions } from '../../src/notebook/page.ts';

/** A page of the text; outputs by cell id. */
function page(text: string, outputs: Record<string, Output[]> = {}, options: Partial<PageOptions> = {}): Document {
  const html = printPage(parseLitMd(text), {
    css: '',
    title: 'File',
    outputs: new Map(Object.entries(outputs)),
    ...options,
  });
  return parseHTML(html).document;
}

const shown = (bundle: Record<string, unknown>): Output => ({ type: 'value', bundle });

test('printPage has one heading of the first rank, from the front matter or the prose', () => {
  const headings = (text: string): (string | null)[] =>
    [...page(text).querySelectorAll('h1')].map((h) => h.textContent);
  expect(headings('---\ntitle: Front\n---\ntext\n')).toEqual(['Front']);
  expect(headings('---\ntitle: Front\n---\n\n# Prose\n')).toEqual(['Prose']);
  expect(headings('text\n')).toEqual(['File']);
  expect(page('---\ntitle: a <b> & "c"\n---\n').querySelector('title')!.textContent).toBe('a <b> & "c"');
});

test('printPage folds the code away, and leaves it out for cells tagged hidden', () => {
  const document = page('```ts {#a}\n1 < 2\n```\n\n```ts {#b .hidden}\nsecret\n```\n', {
    b: [shown({ 'text/plain': 'out' })],
  });
  expect(document.querySelector('#a details summary')!.textContent).toBe('Show the code');
  expect(document.querySelector('#a details code')!.textContent).toBe('1 < 2');
  expect(document.querySelector('#b')!.textContent.trim()).toBe('out');
});

test('printPage shows the richest form it can', () => {
  const outputs = [
    shown({ 'text/plain': 'x', 'text/html': '<b id="rich">x</b>' }),
    shown({
      'text/plain': 'a curve',
      'image/svg+xml': '<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg"><path/></svg>',
    }),
    shown({ 'text/plain': 'a dot', 'image/png': 'iVBO\nRw0K' }),
    shown({ 'text/plain': '*x*', 'text/markdown': '*em* <script>x</script>' }),
    shown({ 'text/plain': 'tone', 'audio/wav': 'UklG' }),
    shown({ 'application/x-unknown': 1, 'text/plain': 'fallback' }),
  ];
  const document = page('```ts {#a}\n```\n', { a: outputs });
  expect(document.querySelector('#rich')).not.toBe(null);
  expect(document.querySelector('svg')!.getAttribute('aria-label')).toBe('a curve');
  expect(document.querySelector('svg')!.getAttribute('role')).toBe('img');
  expect(document.querySelector('img')!.getAttribute('alt')).toBe('a dot');
  expect(document.querySelector('img')!.getAttribute('src')).toBe('data:image/png;base64,iVBORw0K');
  expect(document.querySelector('em')!.textContent).toBe('em');
  expect(document.querySelector('audio')!.getAttribute('src')).toBe('data:audio/wav;base64,UklG');
  expect(document.querySelector('.value')!.textContent).toBe('fallback');
  expect(document.querySelector('script')).toBe(null);
});

test('printPage keeps text of data text', () => {
  const evil = '</pre></style><script>alert(1)</script><img src=x onerror=alert(1)>"\'';
  const document = page(
    '```ts {#a}\n```\n\n' + evil + '\n',
    {
      a: [
        shown({ 'text/plain': evil }),
        shown({ 'text/plain': evil, 'image/png': '"><script>' }),
        shown({ 'text/plain': evil, 'image/svg+xml': '<svg></svg>' }),
        { type: 'stream', name: 'stdout', text: evil },
        {
          type: 'error',
          error: {
            name: evil,
            message: evil,
            at: { cell: evil, line: 1, column: 1 },
            sourceLine: evil,
            stack: [evil, evil],
          },
        },
      ],
    },
    { title: evil },
  );
  expect(document.querySelectorAll('script').length).toBe(0);
  expect(document.querySelectorAll('img').length).toBe(1);
  expect(document.querySelector('svg')!.getAttribute('aria-label')).toBe(evil);
});

test('printPage forbids loading and running anything', () => {
  const content = page('').querySelector('meta[http-equiv=Content-Security-Policy]')!.getAttribute('content');
  expect(content).toContain("default-src 'none'");
  expect(content).not.toContain('script-src');
});

test('printPage resolves a link that another cell defines, and gives table heads their scope', () => {
  const document = page(
    'see [there][x]\n\n```ts\n```\n\n[x]: https://example.org/\n\n| a | b |\n|---|--:|\n| 1 | 2 |\n',
  );
  expect(document.querySelector('a')!.getAttribute('href')).toBe('https://example.org/');
  expect([...document.querySelectorAll('th')].map((cell) => cell.getAttribute('scope'))).toEqual(['col', 'col']);
  expect(document.querySelectorAll('thead').length).toBe(1);
});

test('printPage takes local pictures into the page', () => {
  const embed = (url: string): string | null => (url === 'a b.png' ? 'data:image/png;base64,AAAA' : null);
  const document = page('![alt](<a b.png>) ![gone](gone.png)\n', {}, { embed });
  expect([...document.querySelectorAll('img')].map((img) => img.getAttribute('src'))).toEqual([
    'data:image/png;base64,AAAA',
    'gone.png',
  ]);
});
