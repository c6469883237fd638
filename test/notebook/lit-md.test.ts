import { readFileSync, readdirSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Cell, Notebook } from '../../src/notebook/cell.ts';
import { parseLitMd, printLitMd } from '../../src/notebook/lit-md.ts';

const sources = (text: string): string[] => parseLitMd(text).cells.map(({ kind, source }) => `${kind}: ${source}`);

/** A notebook that was never in a file. */
function unread({ metadata, cells }: Notebook): Notebook {
  const bare = cells.map(({ kind, id, source, tags, metadata: data }) => ({ kind, id, source, tags, metadata: data }));
  return { metadata, cells: bare };
}

test('parseLitMd finds prose and ts fences at the top level', () => {
  expect(sources('# T\n\nSome.\n\n```ts\n1\n```\nMore.\n~~~typescript\n2\n~~~\n')).toEqual([
    'markdown: # T\n\nSome.',
    'code: 1',
    'markdown: More.',
    'code: 2',
  ]);
});

// CommonMark 0.31, section 4.5: fences may be indented by up to three spaces, closed by a longer fence of the same
// character, or by the end of the document; an info string of a backtick fence has no backtick.
test('parseLitMd reads fences as CommonMark does', () => {
  expect(sources('   ```ts\n   a\n    b\n   ```\n')).toEqual(['code: a\n b']);
  expect(sources('````ts\n```\ninner\n```\n`````\n')).toEqual(['code: ```\ninner\n```']);
  expect(sources('~~~ts\n```\n~~~\n')).toEqual(['code: ```']);
  expect(sources('```ts\nno end\n\n')).toEqual(['code: no end\n']);
  expect(sources('```ts\n```\n')).toEqual(['code: ']);
  expect(sources('    ```ts\n    indented code, no fence\n    ```\n')).toEqual([
    'markdown:     ```ts\n    indented code, no fence\n    ```',
  ]);
  expect(sources('- item\n\n  ```ts\n  in a list\n  ```\n')).toHaveLength(1);
  expect(sources('> ```ts\n> quoted\n> ```\n')).toHaveLength(1);
  expect(sources('```json\n{}\n```\n\n```\nplain\n```\n')).toHaveLength(1);
});

test('parseLitMd reads ids, tags and values of cells', () => {
  const [cell] = parseLitMd(
    '```ts {#load-1 .hidden .answer points=2 note="by \\"hand\\"" data=\'{"a":[1]}\'}\n1\n```\n',
  ).cells;
  expect(cell).toMatchObject({
    id: 'load-1',
    tags: ['hidden', 'answer'],
    metadata: { points: '2', note: 'by "hand"', data: { a: [1] } },
  });
});

test('parseLitMd takes a fence with words it does not know as code that is only shown', () => {
  expect(sources('```ts example\n1\n```\n')).toEqual(['markdown: ```ts example\n1\n```']);
});

test('parseLitMd gives each cell an id of its own that no author has given', () => {
  const { cells } = parseLitMd('a\n\n```ts {#cell-2}\n```\n\nb\n');
  expect(cells.map(({ id }) => id)).toEqual(['cell-1', 'cell-2', 'cell-3']);
});

test('parseLitMd numbers the lines of the file', () => {
  const { cells } = parseLitMd('---\ntitle: T\n---\n\nprose\n\n```ts\ncode\n```\n\n<!-- cell -->\n\nmore\n');
  expect(cells.map(({ source, line }) => `${line} ${source}`)).toEqual(['5 prose', '8 code', '13 more']);
});

test('parseLitMd reads front matter, and says where it is wrong', () => {
  expect(parseLitMd('---\ntitle: T\nn: 3\n---\n').metadata).toEqual({ title: 'T', n: 3 });
  expect(parseLitMd('\uFEFF---\r\ntitle: T\r\n---\r\n').metadata).toEqual({ title: 'T' });
  expect(parseLitMd('---\n---\nx\n').metadata).toEqual({});
  expect(parseLitMd('no\n\n---\n\nfront: matter\n').metadata).toEqual({});
  expect(() => parseLitMd('---\ntitle: T\nbad: [1\n---\n')).toThrow(/The front matter is not YAML/);
  expect(() => parseLitMd('---\n- 1\n---\n')).toThrow('The front matter is not a list of names with values');
  expect(() => parseLitMd('```ts {#a}\n```\n```ts {#a}\n```\n')).toThrow('Two cells have the id "a"');
});

const awkward = [
  '',
  '\n',
  '\n\n\nlate start\n\n\n',
  'no final newline',
  '```ts\n1\n```',
  '```ts\n1',
  'a\r\n\r\n```ts\r\n1\r\n2\r\n```\r\n\r\nb\r\n',
  'mixed\r\nends\n```ts\n1\r\n```\n',
  '\uFEFF---\ntitle: T # kept comment\n---\n\n\ntext   \n\t\n```ts   {#a}   \n1\n````\n~~~ts\n2\n~~~   \n',
  '  ```ts\n  1\n```\n```ts\n2\n```\nx\n```ts\n3\n```\n',
  '---\ntitle: never closed\n',
  '<!-- cell {#a .b} -->\n\ntext\n\n<!-- cell -->\n\n<!-- cell -->\nlast\n',
  '<!-- cell -->',
  '[a]: b\n\n```ts\n```\n\n***\n---\n\n1. x\n   ```ts\n   y\n   ```\n',
];
test.each(awkward)('printLitMd writes what parseLitMd read, byte for byte: %j', (text) => {
  expect(printLitMd(parseLitMd(text))).toBe(text);
});

test('printLitMd writes every notebook of this repository byte for byte', () => {
  for (const name of readdirSync('notebooks').filter((file) => file.endsWith('.lit.md'))) {
    const text = readFileSync(`notebooks/${name}`, 'utf8');
    expect(printLitMd(parseLitMd(text))).toBe(text);
  }
});

const piece = fc.constantFrom(
  '```ts',
  '```',
  '~~~',
  '~~~ts {#x .y}',
  '````ts',
  '   ```ts',
  '---',
  '<!-- cell -->',
  '# h',
  'text',
  '- item',
  '> q',
  '',
  ' ',
  '\t',
  '    code',
  'a: b',
  '{',
  '\uFEFF',
  '<div>',
  '[r]: u',
  '\0',
  '...',
);
const newline = fc.constantFrom('\n', '\n', '\n\n', '\r\n', '\r', '');

test('printLitMd writes any text that parseLitMd reads byte for byte', () => {
  fc.assert(
    fc.property(fc.array(fc.tuple(piece, newline), { maxLength: 14 }), (pieces) => {
      const text = pieces.flat().join('');
      let notebook: Notebook;
      try {
        notebook = parseLitMd(text);
      } catch {
        return; // two cells with one id, or front matter that is not YAML
      }
      expect(printLitMd(notebook)).toBe(text);
    }),
    { numRuns: 3000, seed: 17 },
  );
});

describe('a changed cell', () => {
  const text = '---\ntitle: T\n---\nfirst  \n\n\n~~~ts {#a .b}\r\n1\n~~~\nafter\n```ts\n2\n```\n\n\n';
  const change = (index: number, edit: Partial<Cell>): string => {
    const notebook = parseLitMd(text);
    const cells = notebook.cells.map((cell, at) => (at === index ? { ...cell, ...edit } : cell));
    return printLitMd({ ...notebook, cells });
  };

  test('is written anew, and everything else stays as it was', () => {
    expect(change(1, { source: 'x\ny' })).toBe(
      '---\ntitle: T\n---\nfirst  \n\n\n```ts {#a .b}\nx\ny\n```\n\nafter\n```ts\n2\n```\n\n\n',
    );
    expect(change(3, { tags: ['hidden'] })).toBe(
      '---\ntitle: T\n---\nfirst  \n\n\n~~~ts {#a .b}\r\n1\n~~~\nafter\n\n```ts {.hidden}\n2\n```\n\n\n',
    );
  });

  test('gets a fence longer than any in its source', () => {
    expect(change(3, { source: '`\n```\n````\n' })).toContain('\n`````ts\n`\n```\n````\n\n`````\n');
  });

  test('keeps the line ends of its file', () => {
    const notebook = parseLitMd('a\r\n\r\n```ts\r\n1\r\n```\r\n');
    const cells = notebook.cells.map((cell) => ({ ...cell, source: `${cell.source}\nnew` }));
    expect(printLitMd({ ...notebook, cells })).toBe('a\r\nnew\r\n\r\n```ts\r\n1\r\nnew\r\n```\r\n');
  });

  test('that is removed leaves prose on both sides apart', () => {
    const notebook = parseLitMd('a\n\n```ts\n1\n```\n\nb\n');
    const cells = [notebook.cells[0]!, notebook.cells[2]!];
    const written = printLitMd({ ...notebook, cells });
    expect(written).toBe('a\n\n<!-- cell -->\n\nb\n');
    expect(sources(written)).toEqual(['markdown: a', 'markdown: b']);
  });

  test('in the front matter leaves the cells as they were', () => {
    const notebook = parseLitMd('---\ntitle: T\n---\nx\n');
    expect(printLitMd({ ...notebook, metadata: { title: 'U' } })).toBe('---\ntitle: U\n---\nx\n');
  });
});

const line = fc.constantFrom('const a = 1;', '', '  indented', '```', '~~~~', '"text" \'more\'', 'ünï');
const source = fc.array(line, { maxLength: 5 }).map((lines) => lines.join('\n'));
const word = fc.stringMatching(/^[a-z][a-z0-9-]{0,8}$/);
const codeCell = fc.record({
  kind: fc.constantFrom('code' as const, 'raw' as const),
  source,
  tags: fc.array(word, { maxLength: 2 }),
  metadata: fc.dictionary(word, fc.oneof(fc.string(), fc.jsonValue()), { maxKeys: 2 }),
});
const proseCell = fc.record({
  kind: fc.constant('markdown' as const),
  source: fc
    .array(fc.constantFrom('# h', 'text', '', '- a\n- b', '> q'), { minLength: 1, maxLength: 3 })
    .map((lines) => lines.join('\n\n').trim()),
  tags: fc.array(word, { maxLength: 1 }),
  metadata: fc.constant({}),
});

test('parseLitMd reads what printLitMd writes for a notebook that was never in a file', () => {
  fc.assert(
    fc.property(
      fc.array(fc.oneof(codeCell, proseCell), { maxLength: 6 }),
      fc.dictionary(word, fc.jsonValue()),
      (parts, metadata) => {
        const clean = JSON.parse(JSON.stringify(metadata)) as Record<string, unknown>;
        const cells = parts.map((cell, index) => ({
          ...cell,
          id: `id-${index}`,
          metadata: JSON.parse(JSON.stringify(cell.metadata)) as Record<string, unknown>,
        }));
        const notebook: Notebook = { metadata: clean, cells };
        expect(unread(parseLitMd(printLitMd(notebook)))).toEqual(notebook);
      },
    ),
    { numRuns: 1000, seed: 17 },
  );
});
