import { parse } from 'acorn';
import type * as ES from 'acorn';
import MagicString from 'magic-string';
import { children, declaredNames, isFunction, lexicalNames, scopeNames, varNames, type Node } from './scope.ts';

/** A cell's JavaScript, made ready to run in the session. */
export interface Rewritten {
  /** Source of one async function of the session's runtime (see runtime.ts). */
  readonly code: string;
  /** From `code` back to the JavaScript that went in. */
  readonly map: string;
  readonly declared: readonly string[];
  /** Those of `declared` that may not be assigned. */
  readonly constants: readonly string[];
}

/** What earlier cells have made of a name: a constant, something else, or nothing (null). */
export type Known = (name: string) => 'const' | 'other' | null;

interface Position {
  readonly line: number;
  readonly column: number;
}

/** A rule of the language the cell breaks; the position is in the JavaScript that went in. */
export class RewriteError extends SyntaxError {
  readonly at: Position;

  constructor(message: string, at: Position) {
    super(message);
    this.at = at;
  }
}

/**
 * Rewrites one cell so that its top-level declarations live in the session.
 *
 * Every top-level name becomes a box that all cells share: `x` is read as `box.v`, and declared by `box.d = value`, so
 * that a later cell may declare it again and functions of earlier cells see the new value. Names inside functions and
 * blocks stay as they are, and so do JavaScript's own globals. Loops ask whether the person wants to stop.
 *
 * @throws {RewriteError} when the cell breaks a rule of the language that shows before it runs
 */
export function rewrite(source: string, known: Known): Rewritten {
  const program = parseCell(source);
  return new Rewriter(source, program, known).rewrite();
}

function parseCell(source: string): ES.Program {
  try {
    return parse(source, { ecmaVersion: 'latest', sourceType: 'module', allowAwaitOutsideFunction: true });
  } catch (error) {
    if (!(error instanceof SyntaxError) || !('loc' in error)) throw error;
    throw new RewriteError(error.message.replace(/ \(\d+:\d+\)$/, ''), error.loc as Position);
  }
}

/** How the cell itself declares a name. */
type Kind = 'const' | 'let' | 'var' | 'function' | 'class' | 'import' | 'using';

/** Holds the edits of one cell while its tree is walked. */
class Rewriter {
  private readonly text: MagicString;
  private readonly prefix: string;
  private readonly own = new Map<string, { readonly kind: Kind; readonly start: number }>();
  private readonly used = new Set<string>();

  constructor(
    private readonly source: string,
    private readonly program: ES.Program,
    private readonly known: Known,
  ) {
    this.text = new MagicString(source);
    let prefix = '$$';
    while (source.includes(prefix)) prefix += '$';
    this.prefix = prefix;
  }

  rewrite(): Rewritten {
    const statements = this.program.body;
    for (const statement of statements) this.collect(statement);
    for (const name of statements.flatMap((statement) => varNames(unexported(statement) ?? statement)))
      if (!this.own.has(name)) this.own.set(name, { kind: 'var', start: 0 });

    const functions: string[] = [];
    let lastImport = 0;
    statements.forEach((statement, index) => {
      if (statement.type === 'ImportDeclaration') {
        this.importDeclaration(statement);
        // Imports come first, wherever they are written.
        if (index > lastImport) this.text.move(statement.start, statement.end, 0);
        else lastImport = index + 1;
      } else this.statement(statement, index === statements.length - 1, functions);
    });

    const { prefix } = this;
    const boxes = [...this.used].map((name) => `${prefix}${name} = ${prefix}.box(${JSON.stringify(name)})`);
    const head = [
      `(async (${prefix}) => {"use strict";`,
      boxes.length > 0 ? `const ${boxes.join(', ')};` : '',
      ...functions,
    ];
    this.text.prepend(head.join(''));
    this.text.append('\n})');
    const own = [...this.own].filter(([, { kind }]) => kind !== 'using');
    return {
      code: this.text.toString(),
      map: this.text.generateMap({ hires: 'boundary' }).toString(),
      declared: own.map(([name]) => name),
      constants: own.filter(([, { kind }]) => kind === 'const' || kind === 'import').map(([name]) => name),
    };
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

  private statement(statement: Node, isLast: boolean, functions: string[]): void {
    if (statement.type === 'ExportAllDeclaration' || (statement.type === 'ExportNamedDeclaration' && statement.source))
      throw this.problem('A cell cannot export from another module; import the names instead', statement);
    if (statement.type === 'ExportNamedDeclaration' && !statement.declaration) {
      // `export default 5` comes as `var d = 5; export { d as default }`.
      const value = statement.specifiers.find(
        ({ exported }) => 'name' in exported && exported.name === 'default',
      )?.local;
      const shown = isLast && value?.type === 'Identifier' ? `return ${this.box(value.name)}.v;` : '';
      this.text.overwrite(statement.start, statement.end, shown);
      return;
    }
    if (statement.type === 'ExportNamedDeclaration' || statement.type === 'ExportDefaultDeclaration') {
      const words = /^export(\s+default)?\s*/.exec(this.source.slice(statement.start))![0];
      const inner = statement.declaration!;
      const isNameless = 'id' in inner && inner.id === null;
      this.text.overwrite(statement.start, statement.start + words.length, isNameless && !isLast ? 'void ' : '');
      return this.statement(inner, isLast, functions);
    }
    if (isLast && (statement.type === 'ExpressionStatement' || ('id' in statement && statement.id === null))) {
      this.text.appendLeft(statement.start, 'return ');
    }
    if (statement.type === 'FunctionDeclaration' && statement.id !== null) {
      functions.push(`${this.box(statement.id.name)}.d = ${statement.id.name};`);
    } else if (statement.type === 'ClassDeclaration' && statement.id !== null) {
      this.text.appendLeft(statement.start, `${this.box(statement.id.name)}.d = `);
      this.text.prependRight(statement.end, ';');
    }
    this.visit(statement, []);
  }

  private importDeclaration(node: ES.ImportDeclaration): void {
    const names = node.specifiers.map((specifier) => {
      const box = this.box(specifier.local.name);
      if (specifier.type === 'ImportNamespaceSpecifier') return `["*", ${box}]`;
      if (specifier.type === 'ImportDefaultSpecifier') return `["default", ${box}]`;
      const { imported } = specifier;
      return `[${JSON.stringify(imported.type === 'Identifier' ? imported.name : imported.value)}, ${box}]`;
    });
    const attributes = node.attributes.map(({ key, value }) => {
      return `${JSON.stringify(key.type === 'Identifier' ? key.name : key.value)}: ${JSON.stringify(value.value)}`;
    });
    const call = `await ${this.prefix}.import(${JSON.stringify(node.source.value)}, [${names.join(', ')}], {${attributes.join(', ')}});`;
    this.text.overwrite(node.start, node.end, call);
  }

  /** Walks a subtree; `scopes` are the sets of local names around it, innermost last. */
  private visit(node: Node, scopes: readonly ReadonlySet<string>[]): void {
    const names = scopeNames(node);
    const inner = names === null ? scopes : [...scopes, new Set(names)];
    switch (node.type) {
      case 'Identifier':
        return this.reference(node, scopes);
      case 'VariableDeclaration':
        if (this.isTopLevel(node, scopes)) return this.declaration(node, scopes, null);
        break;
      case 'ForInStatement':
      case 'ForOfStatement':
        if (node.left.type === 'VariableDeclaration' && this.isTopLevel(node.left, inner))
          this.declaration(node.left, inner, node);
        else this.visit(node.left, inner);
        this.visit(node.right, inner);
        return this.loopBody(node.body, inner);
      case 'ForStatement':
        if (node.init) this.visit(node.init, inner);
        if (node.test) this.visit(node.test, inner);
        if (node.update) this.visit(node.update, inner);
        return this.loopBody(node.body, inner);
      case 'WhileStatement':
      case 'DoWhileStatement':
        this.visit(node.test, inner);
        return this.loopBody(node.body, inner);
      case 'Property':
        if (node.computed) this.visit(node.key, inner);
        if (node.shorthand && this.isBoxed(shorthandName(node), inner)) {
          const name = shorthandName(node);
          this.text.appendLeft(node.start, `${name}: `);
        }
        return this.visit(node.value, inner);
      case 'MemberExpression':
        this.visit(node.object, inner);
        if (node.computed) this.visit(node.property, inner);
        return;
      case 'MethodDefinition':
      case 'PropertyDefinition':
        if (node.computed) this.visit(node.key, inner);
        if (node.value) this.visit(node.value, inner);
        return;
      case 'LabeledStatement':
        return this.visit(node.body, inner);
      case 'BreakStatement':
      case 'ContinueStatement':
        return;
      case 'MetaProperty':
        if (node.meta.name === 'import') this.text.overwrite(node.start, node.end, `${this.prefix}.meta`);
        return;
      case 'ImportExpression':
        this.text.overwrite(node.start, node.start + 'import'.length, `${this.prefix}.load`);
        break;
      case 'AwaitExpression':
        // Only at the top level does an interrupted wait end the cell.
        if (!scopes.some((scope) => functionScopes.has(scope))) {
          this.text.appendLeft(node.argument.start, `${this.prefix}.wait((`);
          this.text.prependRight(node.argument.end, '))');
        }
        break;
      case 'CallExpression':
      case 'TaggedTemplateExpression': {
        // (0, box.v)(...) so that the function is not given the box as `this`.
        const callee = node.type === 'CallExpression' ? node.callee : node.tag;
        if (callee.type === 'Identifier' && this.isBoxed(callee.name, inner)) {
          this.text.appendLeft(callee.start, '(0, ');
          this.text.prependRight(callee.end, ')');
        }
        break;
      }
      case 'UnaryExpression':
        if (node.operator === 'typeof' && node.argument.type === 'Identifier') {
          const { name, start, end } = node.argument;
          if (this.isBoxed(name, inner)) this.text.overwrite(start, end, `${this.box(name)}.v`);
          return;
        }
        break;
      case 'AssignmentExpression':
      case 'UpdateExpression':
        this.refuseConstants(node.type === 'AssignmentExpression' ? node.left : node.argument, inner);
        break;
      default:
        break;
    }
    if (isFunction(node)) functionScopes.add(inner.at(-1)!);
    for (const child of children(node)) {
      const isOwnName = 'id' in node && node.id === child && (isFunction(node) || node.type.startsWith('Class'));
      if (!isOwnName) this.visit(child, inner);
    }
  }

  /** Whether a declaration is the notebook's: directly at the top, or a `var` outside all functions. */
  private isTopLevel(node: ES.VariableDeclaration, scopes: readonly ReadonlySet<string>[]): boolean {
    if (node.kind === 'using' || node.kind === 'await using') return false;
    if (node.kind === 'var') return !scopes.some((scope) => functionScopes.has(scope));
    return scopes.length === 0;
  }

  /** `const { a } = f()` becomes `({ a: box.d } = f())`; in the head of a for-in or for-of only the pattern stays. */
  private declaration(node: ES.VariableDeclaration, scopes: readonly ReadonlySet<string>[], head: Node | null): void {
    const first = node.declarations[0]!;
    this.text.remove(node.start, first.start);
    for (const { id, init } of node.declarations) {
      if (head === null && id.type === 'ObjectPattern') {
        this.text.appendLeft(id.start, '(');
        this.text.prependRight(init!.end, ')');
      }
      this.pattern(id, scopes);
      if (init) this.initializer(id, init, scopes);
      else if (head === null && id.type === 'Identifier')
        this.text.prependRight(id.end, node.kind === 'var' ? ` = ${this.box(id.name)}.v` : ' = undefined');
    }
  }

  private initializer(id: ES.Pattern, init: ES.Expression, scopes: readonly ReadonlySet<string>[]): void {
    const isAnonymous =
      init.type === 'ArrowFunctionExpression' ||
      ((init.type === 'FunctionExpression' || init.type === 'ClassExpression') && !init.id);
    if (id.type === 'Identifier' && isAnonymous) {
      // A function takes its name from the variable; through a box it would have none.
      this.text.appendLeft(init.start, `({ ${JSON.stringify(id.name)}: `);
      this.text.prependRight(init.end, ` })[${JSON.stringify(id.name)}]`);
    }
    // TypeScript's enums come as `var E = (...)(E || {})`: declared again, they start empty.
    if (id.type === 'Identifier' && init.type === 'CallExpression' && init.arguments.length === 1) {
      const argument = init.arguments[0]!;
      if (
        argument.type === 'LogicalExpression' &&
        argument.left.type === 'Identifier' &&
        argument.left.name === id.name
      ) {
        this.visit(init.callee, scopes);
        this.text.overwrite(argument.start, argument.end, '{}');
        return;
      }
    }
    this.visit(init, scopes);
  }

  /** The targets of a declaration; defaults and computed keys inside are ordinary code. */
  private pattern(node: ES.Pattern, scopes: readonly ReadonlySet<string>[]): void {
    switch (node.type) {
      case 'Identifier':
        this.text.overwrite(node.start, node.end, `${this.box(node.name)}.d`);
        return;
      case 'ObjectPattern':
        for (const property of node.properties) {
          if (property.type === 'RestElement') {
            this.pattern(property.argument, scopes);
            continue;
          }
          if (property.computed) this.visit(property.key, scopes);
          if (property.shorthand) this.text.appendLeft(property.start, `${shorthandName(property)}: `);
          this.pattern(property.value, scopes);
        }
        return;
      case 'ArrayPattern':
        for (const element of node.elements) if (element) this.pattern(element, scopes);
        return;
      case 'AssignmentPattern':
        this.pattern(node.left, scopes);
        this.visit(node.right, scopes);
        return;
      case 'RestElement':
        this.pattern(node.argument, scopes);
        return;
      case 'MemberExpression':
        return;
    }
  }

  private loopBody(body: Node, scopes: readonly ReadonlySet<string>[]): void {
    const check = `if (${this.prefix}.flag[0]) ${this.prefix}.stop();`;
    if (body.type === 'BlockStatement') {
      this.text.appendLeft(body.start + 1, check);
    } else {
      this.text.appendLeft(body.start, `{${check}`);
      this.text.prependRight(body.end, '}');
    }
    this.visit(body, scopes);
  }

  private reference(node: ES.Identifier, scopes: readonly ReadonlySet<string>[]): void {
    const { name, start, end } = node;
    if (!this.isBoxed(name, scopes)) return;
    const own = this.own.get(name);
    const inFunction = scopes.some((scope) => functionScopes.has(scope));
    // `v` is the fast way; `checked` throws while the name has no value yet.
    const isSure = own
      ? own.kind === 'var' || own.kind === 'function' || (own.kind !== 'import' && (inFunction || start >= own.start))
      : this.known(name) !== null;
    this.text.overwrite(start, end, `${this.box(name)}.${isSure ? 'v' : 'checked'}`);
  }

  private isBoxed(name: string, scopes: readonly ReadonlySet<string>[]): boolean {
    if (scopes.some((scope) => scope.has(name))) return false;
    const own = this.own.get(name);
    if (own) return own.kind !== 'using';
    return this.known(name) !== null || !(name in globalThis || name === 'undefined');
  }

  private refuseConstants(target: Node, scopes: readonly ReadonlySet<string>[]): void {
    if (target.type === 'MemberExpression' || target.type === 'AssignmentPattern') return;
    if (target.type !== 'Identifier') {
      for (const child of children(target)) this.refuseConstants(child, scopes);
      return;
    }
    if (!this.isBoxed(target.name, scopes)) return;
    const own = this.own.get(target.name);
    const isConstant = own ? own.kind === 'const' || own.kind === 'import' : this.known(target.name) === 'const';
    if (isConstant)
      throw this.problem(
        `"${target.name}" is a constant and cannot be assigned; declare it with let, or again`,
        target,
      );
  }

  private box(name: string): string {
    this.used.add(name);
    return this.prefix + name;
  }

  private problem(message: string, node: Node): RewriteError {
    const before = this.source.slice(0, node.start).split('\n');
    return new RewriteError(message, { line: before.length, column: before.at(-1)!.length });
  }
}

/** Scopes that belong to functions: an await or a `var` inside is not the notebook's. */
const functionScopes = new WeakSet<ReadonlySet<string>>();

function unexported(statement: Node): Node | null {
  if (statement.type === 'ExportNamedDeclaration') return statement.declaration ?? null;
  if (statement.type === 'ExportDefaultDeclaration') return statement.declaration;
  return null;
}

function shorthandName(property: ES.Property | ES.AssignmentProperty): string {
  return property.key.type === 'Identifier' ? property.key.name : '';
}
