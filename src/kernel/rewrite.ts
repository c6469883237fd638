import type * as ES from 'acorn';
import type MagicString from 'magic-string';
import { CellCode } from './cell-code.ts';
import { CellNames, type Known, type Scopes } from './cell-names.ts';
import { importCall } from './import-call.ts';
import { parseCell, RewriteError } from './parse-cell.ts';
import {
  boundIdentifiers,
  children,
  earlierEnum,
  isFunction,
  isNameless,
  scopeNames,
  shorthandName,
  type Node,
} from './scope.ts';

/** A cell's JavaScript, made ready to run in the session. */
export interface Rewritten {
  /** Source of one async function of the session's runtime (see process.ts). */
  readonly code: string;
  /** From `code` back to the JavaScript that went in. */
  readonly map: string;
  readonly declared: readonly string[];
  /** Those of `declared` that may not be assigned. */
  readonly constants: readonly string[];
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

/** Holds the edits of one cell while its tree is walked. */
class Rewriter {
  private readonly code: CellCode;
  private readonly text: MagicString;
  private readonly names: CellNames;

  constructor(
    private readonly source: string,
    private readonly program: ES.Program,
    known: Known,
  ) {
    this.names = new CellNames(program, known);
    this.code = new CellCode(source);
    this.text = this.code.text;
  }

  rewrite(): Rewritten {
    const statements = this.program.body;
    const functions: string[] = [];
    let lastImport = 0;
    statements.forEach((statement, index) => {
      if (statement.type === 'ImportDeclaration') {
        const call = importCall(statement, (name) => this.code.box(name));
        this.text.overwrite(statement.start, statement.end, `await ${this.code.runtime}.import(${call});`);
        // Imports come first, wherever they are written.
        if (index > lastImport) this.text.move(statement.start, statement.end, 0);
        else lastImport = index + 1;
      } else this.statement(statement, index === statements.length - 1, functions);
    });

    return {
      ...this.code.finish(functions),
      declared: this.names.declared,
      constants: this.names.constants,
    };
  }

  private statement(statement: Node, isLast: boolean, functions: string[]): void {
    if (statement.type === 'ExportAllDeclaration' || (statement.type === 'ExportNamedDeclaration' && statement.source))
      throw RewriteError.at(
        statement.start,
        this.source,
        'A cell cannot export from another module; import the names instead',
      );
    if (statement.type === 'ExportNamedDeclaration' && !statement.declaration) {
      // `export default 5` comes as `var d = 5; export { d as default }`.
      const value = statement.specifiers.find(
        ({ exported }) => 'name' in exported && exported.name === 'default',
      )?.local;
      const shown = isLast && value?.type === 'Identifier' ? `return ${this.code.box(value.name)}.v;` : '';
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
      functions.push(`${this.code.box(statement.id.name)}.d = ${statement.id.name};`);
    } else if (statement.type === 'ClassDeclaration' && statement.id !== null) {
      this.text.appendLeft(statement.start, `${this.code.box(statement.id.name)}.d = `);
      this.text.prependRight(statement.end, ';');
    }
    this.visit(statement, []);
  }

  /** Walks a subtree; `scopes` are the sets of local names around it, innermost last. */
  private visit(node: Node, scopes: Scopes): void {
    const names = scopeNames(node);
    const inner = names === null ? scopes : [...scopes, new Set(names)];
    switch (node.type) {
      case 'Identifier':
        return this.reference(node, scopes);
      case 'VariableDeclaration':
        if (this.names.isTopLevel(node, scopes)) return this.declaration(node, scopes, null);
        break;
      case 'ForInStatement':
      case 'ForOfStatement':
        if (node.left.type === 'VariableDeclaration' && this.names.isTopLevel(node.left, inner))
          this.declaration(node.left, inner, node);
        else {
          if (node.left.type !== 'VariableDeclaration') this.refuseConstants(node.left, inner);
          this.visit(node.left, inner);
        }
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
        if (node.shorthand && this.names.isBoxed(shorthandName(node), inner))
          this.text.appendLeft(node.start, `${shorthandName(node)}: `);
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
        if (node.meta.name === 'import') this.text.overwrite(node.start, node.end, `${this.code.runtime}.meta`);
        return;
      case 'ImportExpression':
        this.text.overwrite(node.start, node.start + 'import'.length, `${this.code.runtime}.load`);
        break;
      case 'AwaitExpression':
        // Only at the top level does an interrupted wait end the cell.
        if (!this.names.isInFunction(scopes)) {
          this.text.appendLeft(node.argument.start, `${this.code.runtime}.wait((`);
          this.text.prependRight(node.argument.end, '))');
        }
        break;
      case 'CallExpression':
      case 'TaggedTemplateExpression': {
        // (0, box.v)(...) so that the function is not given the box as `this`.
        const callee = node.type === 'CallExpression' ? node.callee : node.tag;
        if (callee.type === 'Identifier' && this.names.isBoxed(callee.name, inner)) {
          this.text.appendLeft(callee.start, '(0, ');
          this.text.prependRight(callee.end, ')');
        }
        break;
      }
      case 'UnaryExpression':
        if (node.operator === 'typeof' && node.argument.type === 'Identifier') {
          const { name, start, end } = node.argument;
          if (this.names.isBoxed(name, inner)) this.text.overwrite(start, end, `${this.code.box(name)}.v`);
          return;
        }
        break;
      case 'AssignmentExpression':
        this.refuseConstants(node.left, inner);
        break;
      case 'UpdateExpression':
        if (node.argument.type === 'Identifier') this.refuseConstants(node.argument, inner);
        break;
      default:
        break;
    }
    if (isFunction(node)) this.names.enterFunction(inner.at(-1)!);
    for (const child of children(node)) {
      const isOwnName = 'id' in node && node.id === child && (isFunction(node) || node.type.startsWith('Class'));
      if (!isOwnName) this.visit(child, inner);
    }
  }

  /** `const { a } = f()` becomes `({ a: box.d } = f())`; in the head of a for-in or for-of only the pattern stays. */
  private declaration(node: ES.VariableDeclaration, scopes: Scopes, head: Node | null): void {
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
        this.text.prependRight(id.end, node.kind === 'var' ? ` = ${this.code.box(id.name)}.v` : ' = undefined');
    }
  }

  private initializer(id: ES.Pattern, init: ES.Expression, scopes: Scopes): void {
    if (id.type === 'Identifier' && isNameless(init)) {
      // A function takes its name from the variable; through a box it would have none.
      this.text.appendLeft(init.start, `({ ${JSON.stringify(id.name)}: `);
      this.text.prependRight(init.end, ` })[${JSON.stringify(id.name)}]`);
    }
    // TypeScript's enums come as `var E = (...)(E || {})`: declared again, they start empty.
    const enumStart = id.type === 'Identifier' && init.type === 'CallExpression' ? earlierEnum(init, id.name) : null;
    if (enumStart && init.type === 'CallExpression') {
      this.visit(init.callee, scopes);
      this.text.overwrite(enumStart.start, enumStart.end, '{}');
      return;
    }
    this.visit(init, scopes);
  }

  /** The targets of a declaration; defaults and computed keys inside are ordinary code. */
  private pattern(node: ES.Pattern, scopes: Scopes): void {
    switch (node.type) {
      case 'Identifier':
        this.text.overwrite(node.start, node.end, `${this.code.box(node.name)}.d`);
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

  private loopBody(body: Node, scopes: Scopes): void {
    const check = `if (${this.code.runtime}.flag[0]) ${this.code.runtime}.stop();`;
    if (body.type === 'BlockStatement') {
      this.text.appendLeft(body.start + 1, check);
    } else {
      this.text.appendLeft(body.start, `{${check}`);
      this.text.prependRight(body.end, '}');
    }
    this.visit(body, scopes);
  }

  private reference(node: ES.Identifier, scopes: Scopes): void {
    const { name, start, end } = node;
    if (!this.names.isBoxed(name, scopes)) return;
    // `v` is the fast way; `checked` throws while the name has no value yet.
    this.text.overwrite(start, end, `${this.code.box(name)}.${this.names.hasValue(node, scopes) ? 'v' : 'checked'}`);
  }

  private refuseConstants(target: ES.Pattern, scopes: Scopes): void {
    const constant = boundIdentifiers(target).find(
      ({ name }) => this.names.isBoxed(name, scopes) && this.names.isConstant(name),
    );
    if (!constant) return;
    const message = `"${constant.name}" is a constant and cannot be assigned; declare it with let, or again`;
    throw RewriteError.at(constant.start, this.source, message);
  }
}
