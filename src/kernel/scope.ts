import type * as ES from 'acorn';

/** Any node of the tree acorn makes, as a walker sees it. */
export type Node = ES.AnyNode;

/** Children of a node in source order. */
export function children(node: Node): Node[] {
  const found: Node[] = [];
  for (const [key, value] of Object.entries(node)) {
    if (key === 'type' || key === 'start' || key === 'end') continue;
    if (Array.isArray(value)) found.push(...value.filter(isNode));
    else if (isNode(value)) found.push(value);
  }
  return found;
}

function isNode(value: unknown): value is Node {
  return typeof value === 'object' && value !== null && 'type' in value && typeof value.type === 'string';
}

export function isFunction(
  node: Node,
): node is ES.FunctionDeclaration | ES.FunctionExpression | ES.ArrowFunctionExpression {
  return (
    node.type === 'FunctionDeclaration' || node.type === 'FunctionExpression' || node.type === 'ArrowFunctionExpression'
  );
}

/** Names a pattern gives values to: `{ a, b: [c = 1], ...d }` has a, c and d. */
export function boundIdentifiers(pattern: ES.Pattern): ES.Identifier[] {
  switch (pattern.type) {
    case 'Identifier':
      return [pattern];
    case 'ObjectPattern':
      return pattern.properties.flatMap((property) =>
        boundIdentifiers(property.type === 'RestElement' ? property.argument : property.value),
      );
    case 'ArrayPattern':
      return pattern.elements.flatMap((element) => (element === null ? [] : boundIdentifiers(element)));
    case 'AssignmentPattern':
      return boundIdentifiers(pattern.left);
    case 'RestElement':
      return boundIdentifiers(pattern.argument);
    case 'MemberExpression':
      return [];
  }
}

function boundNames(pattern: ES.Pattern): string[] {
  return boundIdentifiers(pattern).map(({ name }) => name);
}

/** `var` names under a node, functions inside it left aside: they belong to the function around. */
export function varNames(node: Node): string[] {
  if (isFunction(node) || node.type === 'StaticBlock') return [];
  const own = node.type === 'VariableDeclaration' && node.kind === 'var' ? declaredNames(node) : [];
  return [...own, ...children(node).flatMap(varNames)];
}

export function declaredNames(declaration: ES.VariableDeclaration): string[] {
  return declaration.declarations.flatMap((declarator) => boundNames(declarator.id));
}

/** let, const, using, class and function names declared directly in a list of statements. */
export function lexicalNames(statements: readonly Node[]): string[] {
  return statements.flatMap((statement) => {
    if (statement.type === 'VariableDeclaration' && statement.kind !== 'var') return declaredNames(statement);
    if (statement.type === 'FunctionDeclaration' || statement.type === 'ClassDeclaration')
      return statement.id === null ? [] : [statement.id.name];
    return [];
  });
}

/**
 * Names a node opens a scope for, or null when it opens none. Parameters and body of a function count as one scope:
 * for telling local names from the notebook's, that is enough.
 */
export function scopeNames(node: Node): string[] | null {
  if (isFunction(node)) {
    const own = node.type === 'FunctionExpression' && node.id ? [node.id.name] : [];
    const body = node.body.type === 'BlockStatement' ? [...lexicalNames(node.body.body), ...varNames(node.body)] : [];
    const implicit = node.type === 'ArrowFunctionExpression' ? [] : ['arguments'];
    return [...own, ...implicit, ...node.params.flatMap(boundNames), ...body];
  }
  switch (node.type) {
    case 'BlockStatement':
      return lexicalNames(node.body);
    case 'StaticBlock':
      return [...lexicalNames(node.body), ...node.body.flatMap(varNames)];
    case 'SwitchStatement':
      return lexicalNames(node.cases.flatMap((branch) => branch.consequent));
    case 'ForStatement':
      return node.init?.type === 'VariableDeclaration' ? lexicalNames([node.init]) : [];
    case 'ForInStatement':
    case 'ForOfStatement':
      return node.left.type === 'VariableDeclaration' ? lexicalNames([node.left]) : [];
    case 'CatchClause':
      return node.param ? boundNames(node.param) : [];
    case 'ClassExpression':
    case 'ClassDeclaration':
      return node.id ? [node.id.name] : [];
    default:
      return null;
  }
}

/** The name of a property that is also its value, as in `{ a }`. */
export function shorthandName(property: ES.Property | ES.AssignmentProperty): string {
  return property.key.type === 'Identifier' ? property.key.name : '';
}

/** TypeScript's enums come as `var E = (...)(E || {})`: the argument, or null. */
export function earlierEnum({ arguments: [argument, ...more] }: ES.CallExpression, name: string): Node | null {
  const isOne = argument?.type === 'LogicalExpression' && more.length === 0;
  return isOne && argument.left.type === 'Identifier' && argument.left.name === name ? argument : null;
}

/** Whether an expression is a function or class that takes its name from the variable it is given to. */
export function isNameless(node: ES.Expression): boolean {
  if (node.type === 'ArrowFunctionExpression') return true;
  return (node.type === 'FunctionExpression' || node.type === 'ClassExpression') && !node.id;
}
