import { resolve } from 'node:path';
import { afterAll, expect, test } from 'vitest';
import { RemoteLanguage } from '../../../src/clients/vscode/remote-language.ts';

const language = new RemoteLanguage(resolve('.'), process.execPath);
afterAll(() => language.dispose());

const notebook = {
  key: 'one',
  folder: resolve('notebooks'),
  parameters: { audible: 3 },
  cells: [
    { id: 'k1', source: 'const cents = parameters.audible;' },
    { id: 'k2', source: 'const text: string = cents;\ncents.toFi' },
  ],
};

test('RemoteLanguage finds errors, names and explanations across cells', async () => {
  const problems = await language.ask<'problems'>({ ask: 'problems', notebook });
  expect(problems[0]).toMatchObject({ cell: 'k2', line: 1, column: 7, severity: 'error', code: 2322 });
  const { source } = notebook.cells[1]!;
  const place = { notebook, cell: 'k2' };
  const { items } = await language.ask<'completions'>({ ask: 'completions', ...place, offset: source.length });
  expect(items.map(({ name }) => name)).toContain('toFixed');
  const hover = await language.ask<'hover'>({ ask: 'hover', ...place, offset: source.indexOf('cents') });
  expect(hover!.signature).toBe('const cents: number');
});

test('RemoteLanguage answers about a notebook as it stands, and again after it was closed', async () => {
  const changed = { ...notebook, cells: [{ id: 'k1', source: 'const n: number = 1;' }] };
  expect(await language.ask<'problems'>({ ask: 'problems', notebook: changed })).toEqual([]);
  expect(await language.ask<'close'>({ ask: 'close', key: 'one' })).toBeNull();
  expect(await language.ask<'problems'>({ ask: 'problems', notebook: changed })).toEqual([]);
});

test('RemoteLanguage refuses a question of a cell that is not there, and goes on', async () => {
  await expect(language.ask<'hover'>({ ask: 'hover', notebook, cell: 'k9', offset: 0 })).rejects.toThrow(/k9/);
  expect(await language.ask<'problems'>({ ask: 'problems', notebook })).not.toEqual([]);
});
