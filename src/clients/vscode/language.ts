import * as vscode from 'vscode';
import type { Problem } from '../../kernel/intelligence.ts';
import { cellLanguage, notebookType } from './document.ts';
import type { NotebookState } from './messages.ts';
import { RemoteLanguage } from './remote-language.ts';
import { codeCells, folderOf, isOurs, keyOf, parametersOf, programFor } from './settings.ts';

/** How long typing must pause before a notebook is checked, in milliseconds. */
const pause = 300;

const severities: Record<Problem['severity'], vscode.DiagnosticSeverity> = {
  error: vscode.DiagnosticSeverity.Error,
  warning: vscode.DiagnosticSeverity.Warning,
  hint: vscode.DiagnosticSeverity.Hint,
};

/** The editor's picture for TypeScript's word. */
const kinds: Record<string, vscode.CompletionItemKind> = {
  const: vscode.CompletionItemKind.Constant,
  let: vscode.CompletionItemKind.Variable,
  var: vscode.CompletionItemKind.Variable,
  function: vscode.CompletionItemKind.Function,
  'local function': vscode.CompletionItemKind.Function,
  method: vscode.CompletionItemKind.Method,
  property: vscode.CompletionItemKind.Property,
  getter: vscode.CompletionItemKind.Property,
  class: vscode.CompletionItemKind.Class,
  interface: vscode.CompletionItemKind.Interface,
  type: vscode.CompletionItemKind.TypeParameter,
  enum: vscode.CompletionItemKind.Enum,
  module: vscode.CompletionItemKind.Module,
  keyword: vscode.CompletionItemKind.Keyword,
};

interface Asked {
  readonly language: RemoteLanguage;
  readonly notebook: NotebookState;
  readonly cell: string;
  readonly offset: number;
}

/** Errors, completion and explanations in cells, from the TypeScript of the notebook's own `upneck` package. */
export class Language implements vscode.Disposable {
  private readonly problems = vscode.languages.createDiagnosticCollection('upneck');
  /** One process for each package. */
  private readonly languages = new Map<string, RemoteLanguage>();
  private readonly timers = new Map<vscode.NotebookDocument, NodeJS.Timeout>();
  private readonly disposables: vscode.Disposable[] = [this.problems];

  /** @param settings parameters the person has set, NAME=VALUE */
  constructor(private readonly settings: (notebook: vscode.NotebookDocument) => readonly string[]) {
    const selector = { language: cellLanguage, notebookType };
    const completions = {
      provideCompletionItems: (document: vscode.TextDocument, position: vscode.Position) =>
        this.completions(document, position),
    };
    const hovers = {
      provideHover: (document: vscode.TextDocument, position: vscode.Position) => this.hover(document, position),
    };
    this.disposables.push(
      vscode.languages.registerCompletionItemProvider(selector, completions, '.', '"', "'", '/'),
      vscode.languages.registerHoverProvider(selector, hovers),
      vscode.workspace.onDidOpenNotebookDocument((notebook) => this.checkSoon(notebook)),
      vscode.workspace.onDidCloseNotebookDocument((notebook) => this.close(notebook)),
      vscode.workspace.onDidChangeNotebookDocument(({ notebook, contentChanges, cellChanges }) => {
        for (const { removedCells } of contentChanges)
          for (const { document } of removedCells) this.problems.delete(document.uri);
        if (contentChanges.length > 0 || cellChanges.some(({ document }) => document)) this.checkSoon(notebook);
      }),
      vscode.workspace.onDidGrantWorkspaceTrust(() => this.checkAll()),
    );
    this.checkAll();
  }

  dispose(): void {
    for (const timer of this.timers.values()) clearTimeout(timer);
    for (const language of this.languages.values()) language.dispose();
    for (const disposable of this.disposables) disposable.dispose();
  }

  private checkAll(): void {
    for (const notebook of vscode.workspace.notebookDocuments) this.checkSoon(notebook);
  }

  private checkSoon(notebook: vscode.NotebookDocument): void {
    if (!isOurs(notebook)) return;
    clearTimeout(this.timers.get(notebook));
    this.timers.set(
      notebook,
      setTimeout(() => void this.check(notebook), pause),
    );
  }

  private async check(notebook: vscode.NotebookDocument): Promise<void> {
    const asked = this.about(notebook);
    if (!asked) return;
    const versions = codeCells(notebook).map(({ document }) => document.version);
    const found = await asked.language.ask<'problems'>({ ask: 'problems', notebook: asked.notebook });
    const cells = codeCells(notebook);
    // Somebody has typed meanwhile: the next check is on its way.
    if (notebook.isClosed || cells.some(({ document }, index) => document.version !== versions[index])) return;
    for (const cell of cells) {
      const own = found.filter((problem) => problem.cell === keyOf(cell));
      this.problems.set(cell.document.uri, own.map(diagnosticOf));
    }
  }

  private close(notebook: vscode.NotebookDocument): void {
    if (!isOurs(notebook)) return;
    clearTimeout(this.timers.get(notebook));
    this.timers.delete(notebook);
    for (const { document } of notebook.getCells()) this.problems.delete(document.uri);
    const key = notebook.uri.toString();
    for (const language of this.languages.values()) if (!language.isLost) void language.ask({ ask: 'close', key });
  }

  private async completions(
    document: vscode.TextDocument,
    position: vscode.Position,
  ): Promise<vscode.CompletionItem[]> {
    const asked = this.at(document, position);
    if (!asked) return [];
    const { language, ...rest } = asked;
    const { items, start, end } = await language.ask<'completions'>({ ask: 'completions', ...rest });
    const range = new vscode.Range(document.positionAt(start), document.positionAt(end));
    return items.map(({ name, kind }, index) => {
      const item = new vscode.CompletionItem(name, kinds[kind] ?? vscode.CompletionItemKind.Text);
      item.range = range;
      item.sortText = String(index).padStart(6, '0');
      return item;
    });
  }

  private async hover(document: vscode.TextDocument, position: vscode.Position): Promise<vscode.Hover | null> {
    const asked = this.at(document, position);
    if (!asked) return null;
    const { language, ...rest } = asked;
    const found = await language.ask<'hover'>({ ask: 'hover', ...rest });
    if (!found) return null;
    const text = new vscode.MarkdownString().appendCodeblock(found.signature, 'typescript');
    if (found.documentation !== '') text.appendMarkdown(found.documentation);
    return new vscode.Hover(text, new vscode.Range(document.positionAt(found.start), document.positionAt(found.end)));
  }

  private at(document: vscode.TextDocument, position: vscode.Position): Asked | null {
    for (const notebook of vscode.workspace.notebookDocuments) {
      const cell = isOurs(notebook) && notebook.getCells().find((other) => other.document === document);
      if (!cell) continue;
      const asked = this.about(notebook);
      return asked && { ...asked, cell: keyOf(cell), offset: document.offsetAt(position) };
    }
    return null;
  }

  /** Null where nothing may run, or nothing is there to ask: running a cell tells the person why. */
  private about(notebook: vscode.NotebookDocument): Pick<Asked, 'language' | 'notebook'> | null {
    if (!vscode.workspace.isTrusted || notebook.isClosed) return null;
    try {
      const folder = folderOf(notebook);
      const { packageFolder, node } = programFor(folder);
      let language = this.languages.get(packageFolder);
      if (!language || language.isLost) {
        language = new RemoteLanguage(packageFolder, node);
        this.languages.set(packageFolder, language);
      }
      const parameters = parametersOf(notebook, this.settings(notebook));
      const cells = codeCells(notebook)
        .filter(({ document }) => document.languageId === cellLanguage)
        .map((cell) => ({ id: keyOf(cell), source: cell.document.getText() }));
      return { language, notebook: { key: notebook.uri.toString(), folder, parameters, cells } };
    } catch {
      return null;
    }
  }
}

function diagnosticOf({ line, column, endLine, endColumn, severity, message, code }: Problem): vscode.Diagnostic {
  const range = new vscode.Range(line - 1, column - 1, endLine - 1, endColumn - 1);
  const diagnostic = new vscode.Diagnostic(range, message, severities[severity]);
  diagnostic.source = 'TypeScript';
  diagnostic.code = code;
  return diagnostic;
}
