import { createRequire } from 'node:module';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import ts from 'typescript';
import type { Cell } from '../notebook/cell.ts';
import { declarations, globalDeclarations, type Declared } from './declarations.ts';
import { deferredNames } from './later-names.ts';

/** What the compiler says of a place in a cell; lines and columns are 1-based. */
export interface Problem {
  readonly cell: string;
  readonly line: number;
  readonly column: number;
  readonly endLine: number;
  readonly endColumn: number;
  readonly severity: 'error' | 'warning' | 'hint';
  readonly message: string;
  /** TypeScript's number of the message. */
  readonly code: number;
}

export interface Completion {
  readonly name: string;
  /** TypeScript's word for what it is: const, function, class, method, property, ... */
  readonly kind: string;
}

export interface Completions {
  readonly items: readonly Completion[];
  /** The part of the source a chosen item replaces, in offsets of UTF-16 units. */
  readonly start: number;
  readonly end: number;
}

/** What is known of the name at a place. */
export interface Hover {
  /** Its type, as TypeScript. */
  readonly signature: string;
  /** Its doc comment, in Markdown. */
  readonly documentation: string;
  readonly start: number;
  readonly end: number;
}

export interface IntelligenceOptions {
  /** Absolute path of the notebook's folder. */
  readonly folder: string;
  /** Values of the notebook's parameters, for their types. */
  readonly parameters?: Readonly<Record<string, unknown>>;
}

const packageFolder = fileURLToPath(new URL('../../', import.meta.url));
const packageEntry = join(packageFolder, 'src/index.ts');

/** Node's types come with this package, wherever its dependencies are installed. */
const typeRoot = dirname(dirname(createRequire(import.meta.url).resolve('@types/node/package.json')));

const compilerOptions: ts.CompilerOptions = {
  target: ts.ScriptTarget.ES2022,
  lib: ['lib.es2023.d.ts'], // cells run in Node: nothing of a browser's
  module: ts.ModuleKind.ESNext,
  moduleResolution: ts.ModuleResolutionKind.Bundler,
  strict: true,
  skipLibCheck: true,
  esModuleInterop: true,
  resolveJsonModule: true,
  allowImportingTsExtensions: true,
  allowJs: true,
  noEmit: true,
  types: ['node'],
  typeRoots: [typeRoot],
};

/** "Cannot assign to 'a' because it is an import": to the author it is a constant of an earlier cell. */
const assignsImport = 2632;

/** How the language service sorts names of the global scope. */
const globalsSortText = '15';

interface CellFile {
  readonly id: string;
  readonly source: string;
  /** The source, and after it what ties the cell to those before it. */
  readonly text: string;
  readonly version: number;
}

/** A name and the module that declared it last. */
interface Seen {
  readonly file: string;
  readonly declared: Declared;
}

/**
 * The TypeScript compiler's view of one notebook. Each cell is a module that imports the names of the cells before
 * it, so that a name may be declared again, with another type, from there on. Its functions and types may also use
 * names that a later cell is the first to declare; code that runs at once may not.
 */
export class Intelligence {
  private readonly files = new Map<string, CellFile>();
  private readonly globals: string;
  private readonly service: ts.LanguageService;
  private version = 0;

  constructor(private readonly options: IntelligenceOptions) {
    this.globals = globalDeclarations(options.parameters ?? {});
    this.service = ts.createLanguageService(this.host());
  }

  /** Takes the notebook's code cells, in their order. */
  update(cells: readonly Pick<Cell, 'id' | 'source'>[]): void {
    const before = new Map(this.files);
    this.files.clear();
    const seen = new Map<string, Seen>();
    for (const declared of declarations(ts.createSourceFile('globals.ts', this.globals, ts.ScriptTarget.ES2022)))
      if (declared.isExported) seen.set(declared.name, { file: this.path('globals'), declared });
    const parsed = cells.map(({ id, source }) => {
      const file = ts.createSourceFile('cell.ts', source, ts.ScriptTarget.ES2022);
      return { id, source, path: this.path(id), file, own: declarations(file) };
    });
    for (const [index, { id, source, path, file, own }] of parsed.entries()) {
      const visible = new Map(seen);
      // A function may use what a later cell declares first.
      for (const name of deferredNames(file)) {
        if (seen.has(name)) continue;
        for (const later of parsed.slice(index + 1)) {
          const declared = later.own.find((one) => one.name === name);
          if (!declared) continue;
          visible.set(name, { file: later.path, declared });
          break;
        }
      }
      const text = source + this.ties(visible, own);
      const old = before.get(path);
      const version = old?.text === text ? old.version : (this.version += 1);
      this.files.set(path, { id, source, text, version });
      for (const declared of own) seen.set(declared.name, { file: path, declared });
    }
  }

  /** Errors and warnings of all cells, in their order. */
  problems(): Problem[] {
    return [...this.files].flatMap(([path, file]) => this.cellProblems(path, file));
  }

  completions(cell: string, offset: number): Completions {
    const path = this.path(cell);
    const found = this.service.getCompletionsAtPosition(path, offset, { includeCompletionsForModuleExports: false });
    const span = found?.optionalReplacementSpan;
    const start = span?.start ?? this.wordStart(path, offset);
    const items = (found?.entries ?? [])
      .filter(({ kind }) => kind !== ts.ScriptElementKind.warning)
      .filter((entry) => !isMissingGlobal(entry))
      .sort((a, b) => (a.sortText < b.sortText ? -1 : a.sortText > b.sortText ? 1 : 0))
      .map(({ name, kind }) => ({ name, kind }));
    return { items, start, end: Math.max(offset, span ? span.start + span.length : offset) };
  }

  hover(cell: string, offset: number): Hover | null {
    const path = this.path(cell);
    const file = this.files.get(path);
    const info = this.service.getQuickInfoAtPosition(path, offset);
    if (!info || !file || info.textSpan.start > file.source.length) return null;
    const signature = withoutAlias(ts.displayPartsToString(info.displayParts));
    if (signature === 'any') return null; // a name nobody declared; one that is declared any has "const x: any"
    const tags = (info.tags ?? []).map(({ name, text }) => `@${name} ${ts.displayPartsToString(text)}`.trim());
    return {
      signature,
      documentation: [ts.displayPartsToString(info.documentation), ...tags].filter((part) => part !== '').join('\n\n'),
      start: info.textSpan.start,
      end: info.textSpan.start + info.textSpan.length,
    };
  }

  /** What is known of the function whose arguments the place is among, or null when it is among none. */
  callee(cell: string, offset: number): Hover | null {
    const path = this.path(cell);
    const help = this.service.getSignatureHelpItems(path, offset, undefined);
    if (!help) return null;
    const called = this.files.get(path)!.source.slice(0, help.applicableSpan.start);
    const name = /[\p{ID_Continue}$]+(?=\s*(?:<[^()]*>)?\s*\($)/u.exec(called);
    return name && this.hover(cell, name.index);
  }

  dispose(): void {
    this.service.dispose();
  }

  private cellProblems(path: string, { id, source }: CellFile): Problem[] {
    // What is missing at the end of the source is noticed behind it.
    const syntactic = this.service
      .getSyntacticDiagnostics(path)
      .map((diagnostic) => ({ ...diagnostic, start: Math.min(source.length, diagnostic.start) }));
    const all: ts.Diagnostic[] = [
      ...syntactic,
      ...this.service.getSemanticDiagnostics(path),
      ...this.service.getSuggestionDiagnostics(path).filter((diagnostic) => diagnostic.reportsDeprecated),
    ];
    const file = ts.createSourceFile('cell.ts', source, ts.ScriptTarget.ES2022);
    return all.flatMap((diagnostic): Problem[] => {
      const { start = 0, length = 0, code, category } = diagnostic;
      if (start > source.length) return [];
      const message = ts.flattenDiagnosticMessageText(diagnostic.messageText, '\n');
      const from = file.getLineAndCharacterOfPosition(start);
      const to = file.getLineAndCharacterOfPosition(Math.min(source.length, start + length));
      return [
        {
          cell: id,
          line: from.line + 1,
          column: from.character + 1,
          endLine: to.line + 1,
          endColumn: to.character + 1,
          severity: severity(category),
          message: code === assignsImport ? 'Cannot assign to a constant of an earlier cell.' : message,
          code,
        },
      ];
    });
  }

  private wordStart(path: string, offset: number): number {
    const before = this.files.get(path)?.source.slice(0, offset) ?? '';
    return offset - /[\p{ID_Continue}$]*$/u.exec(before)![0].length;
  }

  /**
   * What ties a cell to the others, behind its source, where it moves no line: imports of what it may see, and exports
   * of what it declares. Variables are not imported, because an import cannot be assigned, but declared with their type.
   */
  private ties(seen: ReadonlyMap<string, Seen>, own: readonly Declared[]): string {
    const names = new Set(own.map(({ name }) => name));
    const ties = [...seen]
      .filter(([name]) => !names.has(name))
      .map(([name, { file, declared }]) =>
        declared.isVariable
          ? `declare let ${name}: typeof import(${JSON.stringify(file)}).${name};`
          : `import { ${name} } from ${JSON.stringify(file)};`,
      );
    const exported = new Set(own.filter(({ isExported }) => isExported).map(({ name }) => name));
    const exports = [...names].filter((name) => !exported.has(name));
    return `\n;${ties.join(' ')} export { ${exports.join(', ')} };`;
  }

  private path(cell: string): string {
    return join(this.options.folder, `.cells/${cell}.ts`);
  }

  private host(): ts.LanguageServiceHost {
    const { folder } = this.options;
    const globalsPath = this.path('globals');
    const cache = ts.createModuleResolutionCache(folder, (name) => name, compilerOptions);
    const text = (path: string): string | undefined => {
      if (path === globalsPath) return this.globals;
      return this.files.get(path)?.text ?? ts.sys.readFile(path);
    };
    const fileExists = (path: string): boolean =>
      path === globalsPath || this.files.has(path) || ts.sys.fileExists(path);
    const resolutionHost = { ...ts.sys, fileExists, readFile: text };
    const resolve = (name: string, from: string): ts.ResolvedModuleFull | undefined => {
      if (name === 'upneck') return { resolvedFileName: packageEntry, extension: ts.Extension.Ts };
      const isCell = this.files.has(from);
      if (isCell && (name === globalsPath || this.files.has(name)))
        return { resolvedFileName: name, extension: ts.Extension.Ts };
      // Cells are looked up as if they stood in the notebook's folder itself.
      const containing = isCell ? join(folder, 'notebook.ts') : from;
      const found = ts.resolveModuleName(name, containing, compilerOptions, resolutionHost, cache).resolvedModule;
      if (found || !isCell || name.startsWith('.')) return found;
      return ts.resolveModuleName(name, packageEntry, compilerOptions, resolutionHost, cache).resolvedModule;
    };
    return {
      getCompilationSettings: () => compilerOptions,
      getScriptFileNames: () => [globalsPath, ...this.files.keys()],
      getScriptVersion: (path) => String(this.files.get(path)?.version ?? modified(path)),
      getScriptSnapshot: (path) => {
        const content = text(path);
        return content === undefined ? undefined : ts.ScriptSnapshot.fromString(content);
      },
      getCurrentDirectory: () => packageFolder,
      getDefaultLibFileName: (options) => ts.getDefaultLibFilePath(options),
      fileExists,
      readFile: text,
      readDirectory: (...args) => ts.sys.readDirectory(...args),
      directoryExists: (path) => ts.sys.directoryExists(path),
      getDirectories: (path) => ts.sys.getDirectories(path),
      resolveModuleNameLiterals: (literals, containing) =>
        literals.map((literal) => ({ resolvedModule: resolve(literal.text, containing) })),
    };
  }
}

/** A name of an earlier cell is to its reader no import. */
function withoutAlias(signature: string): string {
  return signature.replace(/^\(alias\) /, '').replace(/\nimport [^\n]*$/, '');
}

/** Node's types tell of globals that modules do not have, such as `require`, or that came with a later Node. */
function isMissingGlobal({ name, kind, sortText }: ts.CompletionEntry): boolean {
  return sortText === globalsSortText && kind === ts.ScriptElementKind.variableElement && !(name in globalThis);
}

function severity(category: ts.DiagnosticCategory): Problem['severity'] {
  if (category === ts.DiagnosticCategory.Error) return 'error';
  return category === ts.DiagnosticCategory.Warning ? 'warning' : 'hint';
}

/** A local module that has changed is read again. */
function modified(path: string): number {
  if (path.includes('/node_modules/')) return 0;
  return ts.sys.getModifiedTime?.(path)?.getTime() ?? 0;
}
