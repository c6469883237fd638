import { dirname } from 'node:path';
import * as vscode from 'vscode';
import type { Values } from '../../kernel/protocol.ts';
import { notebookParameters } from '../../notebook/parameters.ts';
import { notebookType, type EditorNotebook } from './document.ts';
import { findPackage } from './find-package.ts';

export function isOurs(notebook: vscode.NotebookDocument): boolean {
  return notebook.notebookType === notebookType;
}

/**
 * Absolute path of the folder a notebook's cells run in: its own, or for one that was never saved the workspace's.
 *
 * @throws {Error} when the notebook is on no disk of this machine
 */
export function folderOf(notebook: vscode.NotebookDocument): string {
  if (notebook.uri.scheme === 'file') return dirname(notebook.uri.fsPath);
  const folder = vscode.workspace.workspaceFolders?.[0]?.uri;
  if (notebook.isUntitled && folder?.scheme === 'file') return folder.fsPath;
  throw new Error('Cells run only in notebooks that are on this disk; save the notebook in a folder first');
}

/** The `upneck` package for a folder, and the Node that runs it. */
export function programFor(folder: string): { packageFolder: string; node: string } {
  const settings = vscode.workspace.getConfiguration('upneck');
  const base = vscode.workspace.workspaceFolders?.[0]?.uri.fsPath ?? folder;
  const packageFolder = findPackage(folder, settings.get<string>('path', ''), base);
  // On a desktop the extension runs in Electron, which is no Node that could run the package.
  const own = process.versions.electron === undefined ? process.execPath : 'node';
  return { packageFolder, node: settings.get<string>('node', '') || own };
}

/**
 * The parameters a notebook declares, with what the person has set for them.
 *
 * @param settings texts of the form NAME=VALUE
 * @throws {RangeError} see notebookParameters
 */
export function parametersOf(notebook: vscode.NotebookDocument, settings: readonly string[]): Values {
  const { metadata } = notebook.metadata as { metadata?: NonNullable<EditorNotebook['metadata']> };
  const folder = folderOf(notebook);
  const base = vscode.workspace.workspaceFolders?.[0]?.uri.fsPath ?? folder;
  return notebookParameters(metadata ?? {}, settings, { notebook: folder, settings: base });
}

/** What a session calls a cell: the editor's own key, which copies do not share. */
export function keyOf(cell: vscode.NotebookCell): string {
  return `k${cell.document.uri.fragment.replace(/\W/g, '')}`;
}

export function codeCells(notebook: vscode.NotebookDocument): vscode.NotebookCell[] {
  return notebook.getCells().filter(({ kind }) => kind === vscode.NotebookCellKind.Code);
}
