// Entry point of the thread that answers what the compiler knows: loading its types takes seconds, in which the kernel
// must hear interrupts.
import { parentPort, workerData } from 'node:worker_threads';
import { Intelligence, type Hover } from '../../kernel/intelligence.ts';
import type { Asked } from './language.ts';
import type { Content } from './wire.ts';

const { folder } = workerData as { readonly folder: string };
const intelligence = new Intelligence({ folder });

parentPort!.on('message', ({ number, cells, question }: Asked) => {
  intelligence.update([...cells, { id: 'new', source: question.code }]);
  parentPort!.postMessage({ number, answer: answer(question) });
});

function answer({ type, code, cursor }: Asked['question']): Content | null {
  switch (type) {
    case 'complete':
      return complete(code, cursor);
    case 'inspect':
      return inspect(code, cursor);
    case 'page': {
      const hover = intelligence.hover('new', toOffset(code, cursor));
      return hover && hoverBundle(hover);
    }
  }
}

function complete(code: string, cursor: number): Content {
  const offset = toOffset(code, cursor);
  const { items, start, end } = intelligence.completions('new', offset);
  const typed = code.slice(start, offset);
  const fitting = items.filter(({ name }) => name.startsWith(typed));
  const range = { cursor_start: toCursor(code, start), cursor_end: toCursor(code, end) };
  const types = fitting.map(({ name, kind }) => {
    return { start: range.cursor_start, end: range.cursor_end, text: name, type: kind };
  });
  const matches = fitting.map(({ name }) => name);
  return { status: 'ok', matches, ...range, metadata: { _jupyter_types_experimental: types } };
}

function inspect(code: string, cursor: number): Content {
  const offset = toOffset(code, cursor);
  // A cursor behind a name means the name, one among arguments the function.
  const hover =
    intelligence.hover('new', offset) ??
    intelligence.hover('new', Math.max(0, offset - 1)) ??
    intelligence.callee('new', offset);
  return { status: 'ok', found: hover !== null, data: hover ? hoverBundle(hover) : {}, metadata: {} };
}

function hoverBundle({ signature, documentation }: Hover): Content {
  const parts = (...texts: string[]): string => texts.filter((text) => text !== '').join('\n\n');
  return {
    'text/plain': parts(signature, documentation),
    'text/markdown': parts('```ts\n' + signature + '\n```', documentation),
  };
}

/** The protocol counts Unicode code points, JavaScript UTF-16 units. */
function toOffset(code: string, cursor: number): number {
  return [...code].slice(0, cursor).join('').length;
}

function toCursor(code: string, offset: number): number {
  return [...code.slice(0, offset)].length;
}
