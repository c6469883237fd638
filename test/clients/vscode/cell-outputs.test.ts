import { expect, test, vi } from 'vitest';
import type { NotebookCell, NotebookCellExecution, NotebookCellOutput } from 'vscode';

// The editor's classes as far as outputs need them; test/real/vscode.test.ts drives the editor itself.
vi.mock('vscode', () => {
  class NotebookCellOutputItem {
    static stdout = (text: string): NotebookCellOutputItem => new NotebookCellOutputItem(Buffer.from(text), 'stdout');
    constructor(
      readonly data: Uint8Array,
      readonly mime: string,
    ) {}
  }
  class NotebookCellOutput {
    constructor(public items: NotebookCellOutputItem[]) {}
  }
  return { NotebookCellOutputItem, NotebookCellOutput };
});
const { CellOutputs } = await import('../../../src/clients/vscode/cell-outputs.ts');

/** A cell's outputs, and what a reader sees of them after every change. */
function shownCell(): { outputs: InstanceType<typeof CellOutputs>; seen: string[] } {
  let shown: NotebookCellOutput[] = [];
  const seen: string[] = [];
  const execution = {
    appendOutput: (output: NotebookCellOutput) => shown.push(output),
    replaceOutput: (output: NotebookCellOutput) => (shown = [output]),
    clearOutput: () => (shown = []),
    appendOutputItems: () => undefined,
    replaceOutputItems: () => undefined,
  } as unknown as NotebookCellExecution;
  const text = ({ items }: NotebookCellOutput): string =>
    items.map(({ data }) => Buffer.from(data).toString()).join('');
  const place = (act: (execution: NotebookCellExecution) => unknown): Promise<void> => {
    act(execution);
    seen.push(shown.map(text).join('|'));
    return Promise.resolve();
  };
  return { outputs: new CellOutputs({} as NotebookCell, place, new Map(), () => undefined), seen };
}

test('clear takes outputs away at once; with wait they stay until there is another in their place', async () => {
  const { outputs, seen } = shownCell();
  const display = (text: string): void => outputs.show({ 'text/plain': text }, { kind: 'display', id: text });
  display('one');
  outputs.show({}, { kind: 'clear' });
  display('two');
  outputs.show({}, { kind: 'clear', waits: true });
  display('two'); // the same place, which is to be taken away too
  outputs.print('stdout', 'three');
  outputs.show({}, { kind: 'clear', waits: true });
  outputs.print('stdout', 'four');
  outputs.value({ 'text/plain': 'five' });
  await outputs.settle();
  expect(seen).toEqual(['one', '', 'two', 'two', 'two|three', 'four', 'four|five']);
});
