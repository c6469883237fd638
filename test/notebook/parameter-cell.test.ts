import fc from 'fast-check';
import { expect, test } from 'vitest';
import { stringify as stringifyYaml } from 'yaml';
import { fromIpynb, toIpynb } from '../../src/notebook/ipynb.ts';
import { printLitMd } from '../../src/notebook/lit-md.ts';
import { shown } from './shown-notebook.ts';

interface Cell {
  id: string;
  source: string[];
  metadata: { tags?: string[] };
  execution_count?: number | null;
}

const text = `---
title: T # why
parameters:
  logs: { path: ../data } # where
  audible: 3 # cents
  loss: "audible"
  strict: true
---
Prose.

\`\`\`ts
parameters.audible
\`\`\`
`;

/** The literate file that comes back when somebody edits the cells of its .ipynb. */
function edited(literate: string, edit: (source: string, cells: Cell[]) => string): string {
  const data = JSON.parse(toIpynb(shown(literate))) as { cells: Cell[] };
  const cell = data.cells.find(({ metadata }) => metadata.tags?.includes('parameters'))!;
  cell.source = [edit(cell.source.join(''), data.cells)];
  return printLitMd(fromIpynb(JSON.stringify(data)).notebook);
}

test('toIpynb gives the parameters of the front matter in a first cell with the tag "parameters"', () => {
  const { cells } = JSON.parse(toIpynb(shown(text))) as { cells: Cell[] };
  expect(cells.map(({ id }) => id)).toEqual(['parameters', 'cell-1', 'cell-2']);
  expect(cells[0]!.metadata.tags).toEqual(['parameters']);
  expect(cells[0]!.source.join('')).toBe(
    `// The values of this notebook's front matter. Paths start from the notebook's folder.
import { resolve } from 'node:path';
const parameters = {
  logs: resolve('../data'),
  audible: 3,
  loss: 'audible',
  strict: true,
};`,
  );
});

test('fromIpynb takes that cell out again, byte for byte, wherever it was moved to and with its number kept', () => {
  expect(edited(text, (source) => source)).toBe(text);
  expect(edited(text, (source, cells) => (cells.reverse(), source))).toBe(
    edited(text, (source, cells) => (cells.splice(1, 2, cells[2]!, cells[1]!), source)),
  );
  const data = JSON.parse(toIpynb(shown(text))) as { cells: Cell[] };
  data.cells[0]!.execution_count = 7;
  const again = JSON.parse(toIpynb(fromIpynb(JSON.stringify(data)))) as { cells: Cell[] };
  expect(again.cells[0]!.execution_count).toBe(7);
});

test('a value changed in the cell goes back to the front matter, whose remarks and form stay', () => {
  const back = edited(text, (source) =>
    source
      .replace('audible: 3', 'audible: -1.5')
      .replace("resolve('../data')", '`/other logs`')
      .replace('true', 'false'),
  );
  expect(back).toBe(
    text.replace('audible: 3', 'audible: -1.5').replace('../data', '/other logs').replace('true', 'false'),
  );
  expect(edited(text, (source) => source.replace('audible: 3,', 'audible: 3, extra: "a: b", "two words": 1,'))).toBe(
    text.replace('  strict: true\n', '  strict: true\n  extra: "a: b"\n  two words: 1\n'),
  );
  expect(edited(text, (source) => source.replace(/ {2}loss.*\n/, ''))).toBe(text.replace(/ {2}loss.*\n/, ''));
  expect(edited(text.replaceAll('\n', '\r\n'), (source) => source.replace('audible: 3', 'audible: 4'))).toBe(
    text.replace('audible: 3', 'audible: 4').replaceAll('\n', '\r\n'),
  );
});

test.each([
  ['a computed value', (source: string) => source.replace('audible: 3', 'audible: 1 + 2')],
  ['a spread', (source: string) => source.replace('audible: 3', '...more')],
  ['another statement', (source: string) => `${source}\nparameters.audible`],
  ['another import', (source: string) => `import { join } from 'node:path';\n${source}`],
  ['a remark', (source: string) => source.replace('audible: 3,', 'audible: 3, // as agreed')],
  ['types', (source: string) => source.replace('parameters =', 'parameters: Own =')],
  ['what is no program', (source: string) => source.slice(0, -3)],
])('a cell with %s stays a cell, and the front matter as it was', (_what, edit) => {
  const back = edited(text, edit);
  const kept = edit((JSON.parse(toIpynb(shown(text))) as { cells: Cell[] }).cells[0]!.source.join(''));
  const fence = `\`\`\`ts {#parameters .parameters}\n${kept}\n\`\`\``;
  expect(back).toBe(text.replace('Prose.', `${fence}\n\nProse.`));
  // The next .ipynb has both: the front matter's values, and after them the cell that changes them.
  const { cells } = JSON.parse(toIpynb(shown(back))) as { cells: Cell[] };
  expect(cells.map(({ id }) => id).slice(0, 2)).toEqual(['parameters-1', 'parameters']);
  expect(printLitMd(fromIpynb(toIpynb(shown(back))).notebook)).toBe(back);
});

test.each(['{}', '[1]', '5', '{ a: null }', '{ a: [1] }', '{ __proto__: 1 }'])(
  'parameters that a notebook cannot have, %s, get no cell and come back as they were',
  (parameters) => {
    const odd = `---\nparameters: ${parameters}\n---\nProse.\n`;
    expect((JSON.parse(toIpynb(shown(odd))) as { cells: Cell[] }).cells).toHaveLength(1);
    expect(printLitMd(fromIpynb(toIpynb(shown(odd))).notebook)).toBe(odd);
  },
);

test('parameters of any names and values come back byte for byte', () => {
  const value = fc.oneof(
    fc.string({ unit: 'grapheme' }),
    fc.string({ unit: fc.constantFrom("'", '"', '\\', '\n', '`', '$', '{', '\u2028', '</script>') }),
    fc.double({ noNaN: true }),
    fc.integer(),
    fc.boolean(),
    fc.record({ path: fc.string() }, { noNullPrototype: true }),
  );
  const name = fc.oneof(
    fc.string({ minLength: 1 }).filter((one) => one !== '__proto__'),
    fc.constantFrom('class', '1', 'a b', "it's", 'constructor'),
  );
  fc.assert(
    fc.property(fc.dictionary(name, value, { noNullPrototype: true, minKeys: 1 }), (parameters) => {
      const literate = `---\n${stringifyYaml({ parameters })}---\nProse.\n`;
      const ipynb = toIpynb(shown(literate));
      expect((JSON.parse(ipynb) as { cells: Cell[] }).cells).toHaveLength(2);
      expect(printLitMd(fromIpynb(ipynb).notebook)).toBe(literate);
    }),
    { numRuns: 300 },
  );
});
