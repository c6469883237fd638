import { expect, test } from 'vitest';
import { fromItems, toItems } from '../../../src/clients/vscode/output-items.ts';

const typesOf = (bundle: Record<string, unknown>): string[] => toItems(bundle).map(({ mime }) => mime);
const table = { 'text/html': '<table></table>', 'text/plain': 'a', 'application/json': { rows: 0, data: [] } };

test.each([
  table,
  { 'application/json': [1, 'ü', null], 'text/plain': '[ 1 ]' },
  { 'image/svg+xml': '<svg xmlns="http://www.w3.org/2000/svg"><text>ü</text></svg>', 'text/plain': 'figure' },
  { 'image/png': Buffer.from([0x89, 0x50, 0, 255]).toString('base64'), 'application/json': 1 },
  { 'audio/wav': Buffer.from('RIFF').toString('base64') },
])('fromItems gives back what toItems was given (%#)', (bundle) => {
  expect(fromItems(toItems(bundle))).toEqual({ type: 'display', bundle });
  expect(fromItems(toItems(bundle), { isValue: true })).toEqual({ type: 'value', bundle });
});

test('toItems hands pictures and sound over as bytes', () => {
  expect([...toItems({ 'image/png': 'iVA=' })[0]!.data]).toEqual([0x89, 0x50]);
});

// The editor orders application/json before text/html and images: VS Code 1.100, src/vs/workbench/contrib/notebook/
// common/notebookCommon.ts, NOTEBOOK_DISPLAY_ORDER.
test('toItems keeps JSON out of the editor where a table or a picture shows the same, and nowhere else', () => {
  expect(typesOf(table)).not.toContain('application/json');
  expect(typesOf({ 'image/png': '', 'application/json': 1 })).not.toContain('application/json');
  expect(typesOf({ 'text/markdown': '', 'application/json': 1 })).not.toContain('application/json');
  expect(typesOf({ 'text/plain': '1', 'application/json': 1 })).toContain('application/json');
});

// Types under which the editor keeps printed text and errors: VS Code API, NotebookCellOutputItem.stdout, stderr, error.
test('fromItems reads printed text in one piece, and an error as the failure it was', () => {
  const stdout = (text: string) => ({ mime: 'application/vnd.code.notebook.stdout', data: Buffer.from(text) });
  expect(fromItems([stdout('one\n'), stdout('two\n')])).toEqual({ type: 'stream', name: 'stdout', text: 'one\ntwo\n' });
  const failure = { name: 'RangeError', message: 'no', at: null, sourceLine: '', stack: [] };
  const error = { mime: 'application/vnd.code.notebook.error', data: Buffer.from('{}') };
  expect(fromItems([error], { failure })).toEqual({ type: 'error', error: failure });
});
