import { resolve } from 'node:path';
import * as vscode from 'vscode';
import type { Prompt } from '../../kernel/protocol.ts';
import { traceback, type CellFailure } from '../../notebook/output.ts';
import { CellOutputs, type Displayed, type Place } from './cell-outputs.ts';
import { CellProgress } from './cell-progress.ts';
import { cellLanguage, notebookType } from './document.ts';
import { PackageNotFound } from './find-package.ts';
import { RemoteSession } from './remote-session.ts';
import { codeCells, folderOf, isOurs, keyOf, parametersOf, programFor } from './settings.ts';

/** What runs behind one open notebook. */
interface Running {
  session: RemoteSession | null;
  /** The cell that runs now. */
  execution: vscode.NotebookCellExecution | null;
  /** Calls queue behind one another. */
  tail: Promise<void>;
  /** Raised by an interrupt: what was queued before is not run. */
  stops: number;
  count: number;
  /** Parameters set by the person, NAME=VALUE. */
  settings: readonly string[];
  readonly displays: Map<string, readonly Displayed[]>;
  cancelQuestion: vscode.CancellationTokenSource | null;
}

/** Runs cells when the editor asks, each notebook's in a session of its own. */
export class Controller implements vscode.Disposable {
  private readonly notebooks = new Map<vscode.NotebookDocument, Running>();
  /** Errors of cells that have run, at the lines they come from. */
  private readonly failures = vscode.languages.createDiagnosticCollection('upneck-run');
  private readonly progress = new CellProgress();
  private readonly disposables: vscode.Disposable[] = [this.failures, this.progress];

  constructor() {
    const controller = vscode.notebooks.createNotebookController('upneck', notebookType, 'Upneck');
    controller.supportedLanguages = [cellLanguage];
    controller.supportsExecutionOrder = true;
    controller.description = 'TypeScript, in a session of its own';
    controller.executeHandler = (cells, notebook) => this.run(controller, cells, notebook);
    controller.interruptHandler = (notebook) => this.interrupt(notebook);
    this.disposables.push(
      controller,
      vscode.workspace.onDidCloseNotebookDocument((notebook) => this.close(notebook)),
      vscode.workspace.onDidChangeNotebookDocument(({ cellChanges }) => {
        for (const { document } of cellChanges) if (document) this.failures.delete(document.uri);
      }),
    );
  }

  /** Ends the session; the next cell that runs starts another. A running cell ends as stopped. */
  async restart(notebook: vscode.NotebookDocument): Promise<void> {
    const running = this.of(notebook);
    running.stops += 1;
    const { session } = running;
    running.session = null;
    running.displays.clear();
    running.count = 0;
    await session?.dispose();
  }

  settings(notebook: vscode.NotebookDocument): readonly string[] {
    return this.notebooks.get(notebook)?.settings ?? [];
  }

  /** Gives parameters other values than the front matter has, and starts again with them. */
  async set(notebook: vscode.NotebookDocument, settings: readonly string[]): Promise<void> {
    parametersOf(notebook, settings);
    this.of(notebook).settings = settings;
    await this.restart(notebook);
  }

  dispose(): void {
    for (const notebook of [...this.notebooks.keys()]) this.close(notebook);
    for (const disposable of this.disposables) disposable.dispose();
  }

  private of(notebook: vscode.NotebookDocument): Running {
    let running = this.notebooks.get(notebook);
    if (!running) {
      const nothing = { session: null, execution: null, stops: 0, count: 0, settings: [], cancelQuestion: null };
      running = { ...nothing, tail: Promise.resolve(), displays: new Map() };
      this.notebooks.set(notebook, running);
    }
    return running;
  }

  private close(notebook: vscode.NotebookDocument): void {
    if (!isOurs(notebook)) return;
    void this.notebooks.get(notebook)?.session?.dispose();
    this.notebooks.delete(notebook);
    for (const cell of notebook.getCells()) this.failures.delete(cell.document.uri);
  }

  private run(
    controller: vscode.NotebookController,
    cells: readonly vscode.NotebookCell[],
    notebook: vscode.NotebookDocument,
  ): Promise<void> {
    const running = this.of(notebook);
    const { stops } = running;
    running.tail = running.tail.then(async () => {
      for (const cell of cells) {
        if (running.stops !== stops || notebook.isClosed) return;
        // Cells behind one that failed or was stopped are not run.
        if (!(await this.runCell(controller, cell, running))) return;
      }
    });
    return running.tail;
  }

  private async interrupt(notebook: vscode.NotebookDocument): Promise<void> {
    const running = this.of(notebook);
    running.stops += 1;
    running.cancelQuestion?.cancel();
    await running.session?.interrupt();
  }

  private async runCell(
    controller: vscode.NotebookController,
    cell: vscode.NotebookCell,
    running: Running,
  ): Promise<boolean> {
    const session = this.session(cell.notebook, running);
    if (session === null) return false;
    const execution = controller.createNotebookCellExecution(cell);
    running.execution = execution;
    execution.executionOrder = running.count += 1;
    execution.start(Date.now());
    await execution.clearOutput();
    this.failures.delete(cell.document.uri);
    const place = this.place(controller, cell, running);
    const outputs = new CellOutputs(cell, place, running.displays, (report) => this.progress.report(cell, report));
    const source = cell.document.getText().replace(/\r\n?/g, '\n');
    const outcome = await session.run({ id: keyOf(cell), source }, (bundle, shown) => outputs.show(bundle, shown));
    if (session.isLost && running.session === session) running.session = null;
    if (outcome.status === 'ok') outputs.value(outcome.value);
    else if (outcome.status === 'interrupted') outputs.print('stderr', 'Stopped.\n');
    else this.fail(cell, outcome.error.failure, outputs);
    this.progress.clear(cell);
    await outputs.settle();
    running.execution = null;
    execution.end(outcome.status === 'ok', Date.now());
    return outcome.status === 'ok';
  }

  /** The notebook's session, started if need be; null, with a message to the person, where none can be. */
  private session(notebook: vscode.NotebookDocument, running: Running): RemoteSession | null {
    if (running.session) return running.session;
    try {
      if (!vscode.workspace.isTrusted)
        throw new Error('Cells run only in folders you trust: the command "Manage Workspace Trust" tells more');
      const folder = folderOf(notebook);
      const values = { parameters: parametersOf(notebook, running.settings), outputFolder: resolve(folder, 'out') };
      const ask = (prompt: Prompt): Promise<string | null> => this.ask(prompt, running);
      running.session = new RemoteSession({ ...programFor(folder), folder, values, ask });
      return running.session;
    } catch (error) {
      void explain(error);
      return null;
    }
  }

  /** While no cell runs, an output that comes late needs an execution of its own. */
  private place(controller: vscode.NotebookController, cell: vscode.NotebookCell, running: Running): Place {
    return async (act) => {
      // A cell or a notebook that is gone takes no outputs.
      if (cell.index < 0 || cell.notebook.isClosed) return;
      if (running.execution) return act(running.execution);
      const execution = controller.createNotebookCellExecution(cell);
      execution.executionOrder = cell.executionSummary?.executionOrder;
      execution.start();
      await act(execution);
      execution.end(cell.executionSummary?.success);
    };
  }

  private fail(cell: vscode.NotebookCell, failure: CellFailure, outputs: CellOutputs): void {
    const cells = codeCells(cell.notebook);
    const named = (text: string): string =>
      text.replace(/cell "(k\w+)"/g, (whole, key: string) => {
        const index = cells.findIndex((other) => keyOf(other) === key);
        return index < 0 ? whole : `cell ${index + 1}`;
      });
    const { at, name, message, sourceLine } = failure;
    const stack =
      failure.stack.length === 0 && at ? [`cell "${at.cell}", line ${at.line}, column ${at.column}`] : failure.stack;
    outputs.error(failure, traceback({ ...failure, stack: stack.map(named) }));
    const place = at && cells.find((other) => keyOf(other) === at.cell);
    if (!place) return;
    const range = new vscode.Range(at.line - 1, at.column - 1, at.line - 1, Math.max(at.column, sourceLine.length));
    const diagnostic = new vscode.Diagnostic(range, `${name}: ${message}`, vscode.DiagnosticSeverity.Error);
    diagnostic.source = 'Upneck, as it ran';
    this.failures.set(place.document.uri, [diagnostic]);
  }

  private async ask({ text, isSecret }: Prompt, running: Running): Promise<string | null> {
    running.cancelQuestion = new vscode.CancellationTokenSource();
    const options = { prompt: text, password: isSecret, ignoreFocusOut: true };
    const answer = await vscode.window.showInputBox(options, running.cancelQuestion.token);
    running.cancelQuestion = null;
    return answer ?? null;
  }
}

/** Tells the person why something could not be done, and where it can be put right. */
export async function explain(error: unknown): Promise<void> {
  const message = error instanceof Error ? error.message : String(error);
  if (!(error instanceof PackageNotFound)) return void vscode.window.showErrorMessage(message);
  const open = 'Open the Setting';
  if ((await vscode.window.showErrorMessage(message, open)) !== open) return;
  await vscode.commands.executeCommand('workbench.action.openSettings', 'upneck.path');
}
