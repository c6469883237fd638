import * as vscode from 'vscode';
import type { Progress } from '../../kernel/protocol.ts';
import { notebookType } from './document.ts';

/** How far the running cells are, in the line below each: a report is gone with its run and is no output of the cell. */
export class CellProgress implements vscode.Disposable, vscode.NotebookCellStatusBarItemProvider {
  private readonly reports = new Map<vscode.NotebookCell, Map<string, Progress>>();
  private readonly changed = new vscode.EventEmitter<void>();
  readonly onDidChangeCellStatusBarItems = this.changed.event;
  private readonly registration = vscode.notebooks.registerNotebookCellStatusBarItemProvider(notebookType, this);

  report(cell: vscode.NotebookCell, progress: Progress): void {
    const reports = this.reports.get(cell) ?? new Map<string, Progress>();
    this.reports.set(cell, reports.set(progress.label, progress));
    this.changed.fire();
  }

  clear(cell: vscode.NotebookCell): void {
    if (this.reports.delete(cell)) this.changed.fire();
  }

  provideCellStatusBarItems(cell: vscode.NotebookCell): vscode.NotebookCellStatusBarItem[] {
    return [...(this.reports.get(cell)?.values() ?? [])].map(
      (progress) => new vscode.NotebookCellStatusBarItem(inWords(progress), vscode.NotebookCellStatusBarAlignment.Left),
    );
  }

  dispose(): void {
    this.registration.dispose();
    this.changed.dispose();
  }
}

function inWords({ done, total, label }: Progress): string {
  return `${label}: ${total > 0 ? Math.round((100 * done) / total) : 100} %`;
}
