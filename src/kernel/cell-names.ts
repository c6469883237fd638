import type * as ES from 'acorn';
import { declaredNames, lexicalNames, varNames, type Node } from './scope.ts';

/** What earlier cells have made of a name: a constant, something else, or nothing (null). */
export type Known = (name: string) => 'const' | 'other' | null;

/** How the cell itself declares a name. */
type Kind = 'const' | 'let' | 'var' | 'function' | 'class' | 'import' | 'using';

/** Sets of local names around a place, innermost last. */
export type Scopes = readonly ReadonlySet<string>[];

/** Which names of one cell are the notebook's, and what is known of each before the cell runs. */
export class CellNames {
  private readonly own = new Map<string, { readonly kind: Kind; readonly start: number }>();
  /** Scopes that belong to functions: an await or a `var` inside is not the notebook's. */
  private readonly functionScopes = new WeakSet<ReadonlySet<string>>();

  constructor(
    { body }: ES.Program,
    private readonly known: Known,
  ) {
    for (const statement of body) this.collect(statement);
    for (const name of body.flatMap((statement) => varNames(unexported(statement) ?? statement)))
      if (!this.own.has(name)) this.own.set(name, { kind: 'var', start: 0 });
  }

  /** Names the cell declares for the notebook. */
  get declared(): string[] {
    return [...this.own].filter(([, { kind }]) => kind !== 'using').map(([name]) => name);
  }

  /** Those of `declared` that may not be assigned. */
  get constants(): string[] {
    return this.declared.filter((name) => this.isConstant(name));
  }

  isConstant(name: string): boolean {
    const own = this.own.get(name);
    return own ? own.kind === 'const' || own.kind === 'import' : this.known(name) === 'const';
  }

  /** Whether a name is the notebook's, where it stands: no local one, and none of JavaScript's own. */
  isBoxed(name: string, scopes: Scopes): boolean {
    if (scopes.some((scope) => scope.has(name))) return false;
    const own = this.own.get(name);
    if (own) return own.kind !== 'using';
    return this.known(name) !== null || !(name in globalThis || name === 'undefined');
  }

  /** Whether a name of the notebook surely has a value when this place is reached. */
  hasValue({ name, start }: ES.Identifier, scopes: Scopes): boolean {
    const own = this.own.get(name);
    if (!own) return this.known(name) !== null;
    if (own.kind === 'import') return false;
    return own.kind === 'var' || own.kind === 'function' || this.isInFunction(scopes) || start >= own.start;
  }

  /** Whether a declaration is the notebook's: directly at the top, or a `var` outside all functions. */
  isTopLevel({ kind }: ES.VariableDeclaration, scopes: Scopes): boolean {
    if (kind === 'using' || kind === 'await using') return false;
    return kind === 'var' ? !this.isInFunction(scopes) : scopes.length === 0;
  }

  isInFunction(scopes: Scopes): boolean {
    return scopes.some((scope) => this.functionScopes.has(scope));
  }

  /** Notes that a scope is a function's. */
  enterFunction(scope: ReadonlySet<string>): void {
    this.functionScopes.add(scope);
  }

  /** Notes the names a top-level statement declares. */
  private collect(statement: Node): void {
    if (statement.type === 'ImportDeclaration')
      for (const { local } of statement.specifiers) this.own.set(local.name, { kind: 'import', start: 0 });
    const inner = unexported(statement) ?? statement;
    if (inner.type === 'VariableDeclaration' && inner.kind !== 'var') {
      const kind = inner.kind === 'await using' ? 'using' : inner.kind;
      for (const declarator of inner.declarations)
        for (const name of declaredNames({ ...inner, declarations: [declarator] }))
          this.own.set(name, { kind, start: declarator.end });
    } else if (inner.type === 'FunctionDeclaration' || inner.type === 'ClassDeclaration') {
      const kind = inner.type === 'FunctionDeclaration' ? 'function' : 'class';
      for (const name of lexicalNames([inner])) this.own.set(name, { kind, start: kind === 'class' ? inner.end : 0 });
    }
  }
}

/** The declaration inside an export, or null. */
export function unexported(statement: Node): Node | null {
  if (statement.type === 'ExportNamedDeclaration') return statement.declaration ?? null;
  if (statement.type === 'ExportDefaultDeclaration') return statement.declaration;
  return null;
}
