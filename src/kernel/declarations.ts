import ts from 'typescript';

/** How a cell declares a name that later cells see. */
export interface Declared {
  readonly name: string;
  /** Whether it may be assigned again. */
  readonly isVariable: boolean;
  /** Whether the cell exports it itself. */
  readonly isExported: boolean;
}

/** Top-level names of one cell: values, types and imports. */
export function declarations(file: ts.SourceFile): Declared[] {
  return file.statements.flatMap((statement) => {
    const modifiers = ts.canHaveModifiers(statement) ? ts.getModifiers(statement) : undefined;
    const isExported = modifiers?.some(({ kind }) => kind === ts.SyntaxKind.ExportKeyword) ?? false;
    if (ts.isVariableStatement(statement)) {
      const isVariable = (statement.declarationList.flags & ts.NodeFlags.Const) === 0;
      return statement.declarationList.declarations
        .flatMap(({ name }) => bound(name))
        .map((name) => ({ name, isVariable, isExported }));
    }
    if (ts.isImportDeclaration(statement))
      return importedNames(statement).map((name) => ({ name, isVariable: false, isExported }));
    const isNamed =
      ts.isFunctionDeclaration(statement) ||
      ts.isClassDeclaration(statement) ||
      ts.isEnumDeclaration(statement) ||
      ts.isInterfaceDeclaration(statement) ||
      ts.isTypeAliasDeclaration(statement) ||
      ts.isModuleDeclaration(statement);
    if (isNamed && statement.name && ts.isIdentifier(statement.name))
      return [{ name: statement.name.text, isVariable: false, isExported }];
    return hoisted(statement).map((name) => ({ name, isVariable: true, isExported }));
  });
}

function bound(name: ts.BindingName): string[] {
  if (ts.isIdentifier(name)) return [name.text];
  return name.elements.flatMap((element) => (ts.isOmittedExpression(element) ? [] : bound(element.name)));
}

function importedNames({ importClause }: ts.ImportDeclaration): string[] {
  const { name, namedBindings } = importClause ?? {};
  const own = name ? [name.text] : [];
  if (!namedBindings) return own;
  if (ts.isNamespaceImport(namedBindings)) return [...own, namedBindings.name.text];
  return [...own, ...namedBindings.elements.map((element) => element.name.text)];
}

/** `var` in loops and blocks outside functions. */
function hoisted(node: ts.Node): string[] {
  if (ts.isFunctionLike(node) || ts.isClassLike(node)) return [];
  if (ts.isVariableDeclarationList(node) && (node.flags & ts.NodeFlags.BlockScoped) === 0)
    return node.declarations.flatMap(({ name }) => bound(name));
  const names: string[] = [];
  node.forEachChild((child) => void names.push(...hoisted(child)));
  return names;
}

/** TypeScript of the names every cell has; `parameters` are typed by their values. */
export function globalDeclarations(parameters: Readonly<Record<string, unknown>>): string {
  const members = Object.entries(parameters).map(([name, value]) => {
    return `  /** Parameter of this notebook, here ${JSON.stringify(value)}. */\n  readonly ${JSON.stringify(name)}: ${typeof value};`;
  });
  return `
type MimeBundle = Readonly<Record<string, unknown>>;
/** Parameters of this notebook, as its front matter declares them. */
export declare const parameters: {
${members.join('\n')}
};
/** Absolute path of the folder in which the page is written. */
export declare const outputFolder: string;
/** Shows a value at once; what it returns can put another value in its place. */
export declare const display: {
  (value: unknown, options?: { readonly id?: string }): { readonly id: string; update(value: unknown): void };
  /** Removes what the cell has shown so far; with wait: true not before it shows something else. */
  clear(options?: { readonly wait?: boolean }): void;
};
/** Tells how far a long computation is. */
export declare function progress(done: number, total: number, label?: string): void;
/** Asks the person who runs the cell. */
export declare function ask(text: string, options?: { readonly secret?: boolean }): Promise<string>;
/** Makes values that are shown in a given form. */
export declare const mime: {
  bundle(bundle: MimeBundle): object;
  html(html: string): object;
  markdown(markdown: string): object;
  svg(svg: string, alt?: string): object;
  json(value: unknown): object;
  /** A PNG, JPEG, GIF or WebP picture. */
  image(bytes: Uint8Array, alt?: string): object;
  /** Sound as a WAV file's bytes. */
  audio(wav: Uint8Array, alt?: string): object;
};
declare global {
  // Node has these, its types do not.
  var WebAssembly: any, Performance: any, Crypto: any, CryptoKey: any, SubtleCrypto: any;
}
`;
}
