import * as vscode from 'vscode';
import { NotebookSyntaxError, parseLitMd, printLitMd } from '../../notebook/lit-md.ts';
import { registerCommands } from './commands.ts';
import { Controller } from './controller.ts';
import { fromEditor, notebookType, toEditor } from './document.ts';
import { Language } from './language.ts';

const serializer: vscode.NotebookSerializer = {
  // A file that cannot be read must not open: it would be saved as what little was understood.
  deserializeNotebook: (bytes) => {
    let text: string;
    try {
      text = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(bytes);
    } catch (error) {
      throw new Error('The file is not UTF-8 text; expected a notebook', { cause: error });
    }
    if (text.includes('\0')) throw new Error('The file is not text; expected a notebook');
    try {
      return toEditor(parseLitMd(text));
    } catch (error) {
      if (!(error instanceof NotebookSyntaxError)) throw error;
      throw new Error(`Line ${error.line}: ${error.message}`, { cause: error });
    }
  },
  serializeNotebook: ({ cells, metadata }) =>
    new TextEncoder().encode(printLitMd(fromEditor({ cells, ...(metadata && { metadata }) }))),
};

export function activate(context: vscode.ExtensionContext): void {
  const controller = new Controller();
  context.subscriptions.push(
    vscode.workspace.registerNotebookSerializer(notebookType, serializer, { transientOutputs: true }),
    controller,
    new Language((notebook) => controller.settings(notebook)),
  );
  registerCommands(context, controller);
}
