import * as vscode from 'vscode';
import { progressType, type Progress, type Shown } from '../../kernel/protocol.ts';
import type { MimeBundle } from '../../notebook/cell.ts';
import type { CellFailure } from '../../notebook/output.ts';
import { toItems } from './output-items.ts';

/** Where outputs go: the execution of the cell, or whichever can place an output there once it has ended. */
export type Place = (act: (execution: vscode.NotebookCellExecution) => Thenable<void>) => Promise<void>;

interface Placed {
  readonly output: vscode.NotebookCellOutput;
  readonly kind: 'display' | 'stdout' | 'stderr' | 'value' | 'error';
}

/** An output that later ones with the same id replace. */
export interface Displayed {
  readonly cell: vscode.NotebookCell;
  readonly output: vscode.NotebookCellOutput;
}

/** What one run of a cell shows, in the editor. */
export class CellOutputs {
  private readonly placed: Placed[] = [];
  private readonly pending: Promise<void>[] = [];
  /** Whether the next output takes the place of all before it: they were cleared, but not before there is another. */
  private isReplaced = false;

  /**
   * @param displays outputs of the whole notebook by the id of their display
   * @param progress takes reports of progress, which are no outputs
   */
  constructor(
    private readonly cell: vscode.NotebookCell,
    private readonly place: Place,
    private readonly displays: Map<string, readonly Displayed[]>,
    private readonly progress: (progress: Progress) => void,
  ) {
    this.forgetDisplays();
  }

  show(bundle: MimeBundle, { kind, id, update, waits }: Shown): void {
    switch (kind) {
      case 'stdout':
      case 'stderr':
        return this.print(kind, String(bundle['text/plain']));
      case 'clear':
        if (waits === true) {
          this.isReplaced = true;
          return;
        }
        this.forgetPlaced();
        return this.act((execution) => execution.clearOutput(this.cell));
      case 'progress':
        return this.progress(bundle[progressType] as Progress);
      case 'display': {
        const items = toItems(bundle).map(item);
        if (this.isReplaced && update !== true) this.forgetPlaced();
        const known = id === undefined ? [] : (this.displays.get(id) ?? []);
        for (const { output } of known) this.replace(output, items);
        if (update !== true && !known.some(({ cell }) => cell === this.cell)) this.add(items, kind, id);
      }
    }
  }

  value(bundle: MimeBundle | null): void {
    if (bundle) this.add(toItems(bundle).map(item), 'value', undefined, { isValue: true });
  }

  /** @param stack the failure in lines of text, in places the reader can find */
  error(failure: CellFailure, stack: readonly string[]): void {
    const { name, message } = failure;
    const error = { name, message, stack: stack.join('\n') };
    this.add([vscode.NotebookCellOutputItem.error(error)], 'error', undefined, { failure });
  }

  print(kind: 'stdout' | 'stderr', text: string): void {
    const printed = vscode.NotebookCellOutputItem[kind](text);
    const last = this.isReplaced ? undefined : this.placed.at(-1);
    if (last?.kind !== kind) return this.add([printed], kind);
    last.output.items.push(printed);
    this.act((execution) => execution.appendOutputItems(printed, last.output));
  }

  /** Resolves when the editor has all outputs. */
  async settle(): Promise<void> {
    await Promise.all(this.pending);
  }

  private add(
    items: vscode.NotebookCellOutputItem[],
    kind: Placed['kind'],
    id?: string,
    metadata?: Record<string, unknown>,
  ): void {
    const output = new vscode.NotebookCellOutput(items, metadata);
    const { isReplaced } = this;
    if (isReplaced) this.forgetPlaced();
    this.isReplaced = false;
    this.placed.push({ output, kind });
    if (kind === 'display' && id !== undefined)
      this.displays.set(id, [...(this.displays.get(id) ?? []), { cell: this.cell, output }]);
    this.act((execution) =>
      isReplaced ? execution.replaceOutput(output, this.cell) : execution.appendOutput(output, this.cell),
    );
  }

  private forgetPlaced(): void {
    this.placed.length = 0;
    this.forgetDisplays();
  }

  /** Outputs of earlier runs of this cell are gone from the editor. */
  private forgetDisplays(): void {
    for (const [id, outputs] of this.displays)
      this.displays.set(
        id,
        outputs.filter(({ cell }) => cell !== this.cell),
      );
  }

  /** An output's items are kept as the editor has them. */
  private replace(output: vscode.NotebookCellOutput, items: vscode.NotebookCellOutputItem[]): void {
    output.items = items;
    this.act((execution) => execution.replaceOutputItems(items, output));
  }

  private act(act: (execution: vscode.NotebookCellExecution) => Thenable<void>): void {
    this.pending.push(this.place(act));
  }
}

function item({ mime, data }: { mime: string; data: Uint8Array }): vscode.NotebookCellOutputItem {
  return new vscode.NotebookCellOutputItem(data, mime);
}
