import { readFile } from 'node:fs/promises';
import { basename } from 'node:path';
import * as vscode from 'vscode';
import type { Notebook } from '../../notebook/cell.ts';
import { toIpynb } from '../../notebook/ipynb.ts';
import type { Output } from '../../notebook/output.ts';
import { printPage } from '../../notebook/page.ts';
import { pictureUrl } from '../picture-url.ts';
import { writeWhole } from '../write-whole.ts';
import { explain, type Controller } from './controller.ts';
import { cellLanguage, fromEditor, notebookType, type EditorCell } from './document.ts';
import { fromItems } from './output-items.ts';
import { folderOf, isOurs, parametersOf } from './settings.ts';

/** Commands of the palette, by the names the manifest has for them. */
export function registerCommands(context: vscode.ExtensionContext, controller: Controller): void {
  const onNotebook = (name: string, act: (notebook: vscode.NotebookDocument) => Promise<void>): vscode.Disposable =>
    vscode.commands.registerCommand(name, async () => {
      const notebook = vscode.window.activeNotebookEditor?.notebook;
      if (!notebook || !isOurs(notebook))
        return void vscode.window.showErrorMessage('Open a notebook (*.lit.md) first, and click into it');
      try {
        await act(notebook);
      } catch (error) {
        void explain(error);
      }
    });
  context.subscriptions.push(
    onNotebook('upneck.restart', (notebook) => controller.restart(notebook)),
    onNotebook('upneck.savePage', (notebook) => savePage(notebook, context.asAbsolutePath('page.css'))),
    onNotebook('upneck.saveIpynb', saveIpynb),
    onNotebook('upneck.setParameter', (notebook) => setParameter(notebook, controller)),
    vscode.commands.registerCommand('upneck.newNotebook', newNotebook),
  );
}

interface Shown {
  readonly notebook: Notebook;
  readonly outputs: Map<string, Output[]>;
  readonly counts: Map<string, number>;
}

/** The notebook as the editor has it, with what its cells show now. */
function shownNotebook(document: vscode.NotebookDocument): Shown {
  const cells = document.getCells();
  const plain = cells.map(({ kind, document: { languageId }, document, metadata }): EditorCell => {
    return { kind, value: document.getText(), languageId, metadata };
  });
  const notebook = fromEditor({ cells: plain, metadata: document.metadata });
  const outputs = new Map<string, Output[]>();
  const counts = new Map<string, number>();
  for (const [index, { id }] of notebook.cells.entries()) {
    const cell = cells[index]!;
    if (cell.outputs.length > 0)
      outputs.set(
        id,
        cell.outputs.map(({ items, metadata }) => fromItems(items, metadata)),
      );
    const count = cell.executionSummary?.executionOrder;
    if (count !== undefined) counts.set(id, count);
  }
  return { notebook, outputs, counts };
}

async function savePage(document: vscode.NotebookDocument, cssPath: string): Promise<void> {
  const { notebook, outputs, counts } = shownNotebook(document);
  const folder = folderOf(document);
  const css = await readFile(cssPath, 'utf8');
  const embed = (url: string): string | null => pictureUrl(folder, url);
  const page = printPage(notebook, { css, title: stem(document), outputs, embed });
  const notRun = notebook.cells.filter(({ kind, id }) => kind === 'code' && !counts.has(id)).length;
  const note = notRun === 0 ? '' : `. ${notRun} of its cells ${notRun === 1 ? 'was' : 'were'} not run`;
  await saveBeside(document, { end: 'html', title: 'Save as a Web Page', content: page, note });
}

async function saveIpynb(document: vscode.NotebookDocument): Promise<void> {
  const content = toIpynb(shownNotebook(document));
  await saveBeside(document, { end: 'ipynb', title: 'Save as .ipynb', content, note: '' });
}

function stem(document: vscode.NotebookDocument): string {
  return basename(document.uri.path).replace(/\.lit\.md$/, '');
}

interface File {
  readonly end: string;
  readonly title: string;
  readonly content: string;
  /** Added to the message that the file was written. */
  readonly note: string;
}

async function saveBeside(document: vscode.NotebookDocument, { end, title, content, note }: File): Promise<void> {
  const defaultUri = vscode.Uri.joinPath(vscode.Uri.file(folderOf(document)), `${stem(document)}.${end}`);
  const target = await vscode.window.showSaveDialog({ defaultUri, title, filters: { [end]: [end] } });
  if (!target) return;
  await writeWhole(target.fsPath, content);
  void vscode.window.showInformationMessage(`Wrote ${basename(target.fsPath)}${note}`);
}

async function setParameter(document: vscode.NotebookDocument, controller: Controller): Promise<void> {
  const settings = controller.settings(document);
  const values = Object.entries(parametersOf(document, settings));
  if (values.length === 0) throw new Error('This notebook declares no parameters in its front matter');
  const items = values.map(([label, value]) => ({ label, description: String(value) }));
  const title = 'Set a Parameter for This Session';
  const chosen = await vscode.window.showQuickPick(items, { title });
  if (!chosen) return;
  const { label, description } = chosen;
  const text = await vscode.window.showInputBox({ title, prompt: `Value of ${label}`, value: description });
  if (text === undefined) return;
  const others = settings.filter((setting) => !setting.startsWith(`${label}=`));
  await controller.set(document, [...others, `${label}=${text}`]);
  void vscode.window.showInformationMessage(
    `${label} is ${text} from now on. Run the cells again: earlier variables are gone`,
  );
}

async function newNotebook(): Promise<void> {
  const cells = [
    new vscode.NotebookCellData(vscode.NotebookCellKind.Markup, '# A question\n\nWhat do we expect?', 'markdown'),
    new vscode.NotebookCellData(vscode.NotebookCellKind.Code, '', cellLanguage),
  ];
  const notebook = await vscode.workspace.openNotebookDocument(notebookType, new vscode.NotebookData(cells));
  await vscode.window.showNotebookDocument(notebook);
}
