import type { ShownNotebook } from '../../src/notebook/ipynb.ts';
import { parseLitMd } from '../../src/notebook/lit-md.ts';
import type { Output } from '../../src/notebook/output.ts';

/** A literate notebook as it stands after a run. */
export const shown = (
  text: string,
  outputs: Record<string, Output[]> = {},
  counts: Record<string, number> = {},
): ShownNotebook => ({
  notebook: parseLitMd(text),
  outputs: new Map(Object.entries(outputs)),
  counts: new Map(Object.entries(counts)),
});

/** A notebook with every kind of cell and of output. */
export const full = shown(
  '---\ntitle: T\nparameters:\n  a: 1\n---\n# Prose\n\n```ts {#load .hidden points=2}\nconst a = "ünï";\n\na\n```\n\n<!-- cell {.note} -->\n\nMore.\n\n```raw {#r}\nraw <text>\n```\n',
  {
    load: [
      { type: 'stream', name: 'stdout', text: 'a\nb\n' },
      {
        type: 'display',
        bundle: { 'text/plain': 'x', 'image/png': 'iVBORw0KGgo=', 'application/json': { rows: ['a', 1] } },
      },
      { type: 'value', bundle: { 'text/plain': "'ünï'", 'text/html': '<b>\nx</b>' } },
      {
        type: 'error',
        error: {
          name: 'TypeError',
          message: 'no',
          at: { cell: 'load', line: 1, column: 7 },
          sourceLine: 'const a = "ünï";',
          stack: ['f'],
        },
      },
    ],
  },
  { load: 3 },
);
