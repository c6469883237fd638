import { isDeepStrictEqual } from 'node:util';
import { parse as parseProgram, type Comment, type Expression, type Property, type SpreadElement } from 'acorn';
import { parse as parseYaml, parseDocument } from 'yaml';
import { isPath } from './parameters.ts';
import { isData, type Data } from './sorted.ts';

const remark = "The values of this notebook's front matter. Paths start from the notebook's folder.";
const pathImport = "import { resolve } from 'node:path';";

/**
 * The front matter's `parameters` as the source of a cell, for clients that know no front matter.
 *
 * @returns null when nothing is declared, or something that cannot be a parameter
 */
export function printParameterCell(declared: unknown): string | null {
  if (!isData(declared)) return null;
  const entries = Object.entries(declared);
  if (entries.length === 0 || !entries.every(([name, value]) => name !== '__proto__' && isParameter(value)))
    return null;
  const lines = entries.map(([name, value]) => {
    const key = /^[A-Za-z_$][\w$]*$/.test(name) ? name : printText(name);
    return `  ${key}: ${isPath(value) ? `resolve(${printText(value.path)})` : printValue(value)},`;
  });
  const imports = entries.some(([, value]) => isPath(value)) ? [pathImport] : [];
  return [`// ${remark}`, ...imports, 'const parameters = {', ...lines, '};'].join('\n');
}

function isParameter(value: unknown): boolean {
  return typeof value === 'string' || typeof value === 'number' || typeof value === 'boolean' || isPath(value);
}

function printValue(value: unknown): string {
  if (typeof value === 'string') return printText(value);
  return Object.is(value, -0) ? '-0' : String(value);
}

function printText(text: string): string {
  return /^[^'\\\p{C}\u2028\u2029]*$/u.test(text) ? `'${text}'` : JSON.stringify(text);
}

/**
 * Reads back what `printParameterCell` has written and a person has perhaps changed.
 *
 * @param before what the front matter declares; a parameter that was a path stays one
 * @returns what the front matter is to declare, or null when the cell says more than names with values: a computed
 *   value, another statement, a remark
 */
export function readParameterCell(source: string, before: unknown): Data | null {
  const comments: Comment[] = [];
  let object: Expression | null | undefined;
  try {
    const { body } = parseProgram(source, { ecmaVersion: 'latest', sourceType: 'module', onComment: comments });
    const [last, ...others] = body.toReversed();
    if (others.some(({ start, end }) => source.slice(start, end) !== pathImport)) return null;
    if (last?.type !== 'VariableDeclaration' || last.declarations.length !== 1) return null;
    const { id, init } = last.declarations[0]!;
    if (id.type !== 'Identifier' || id.name !== 'parameters') return null;
    object = init;
  } catch (error) {
    if (error instanceof SyntaxError) return null;
    throw error;
  }
  if (object?.type !== 'ObjectExpression' || comments.some(({ value }) => value.trim() !== remark)) return null;
  const old = isData(before) ? before : {};
  const values: Data = {};
  for (const property of object.properties) {
    const [name, value] = readProperty(property);
    if (name === null || value === null) return null;
    const was = old[name];
    const path = isPath(value) ? value.path : typeof value === 'string' ? value : null;
    values[name] = isPath(was) && path !== null ? { ...was, path } : value;
  }
  return isDeepStrictEqual(values, old) ? old : values;
}

function readProperty(property: Property | SpreadElement): [name: string | null, value: unknown] {
  if (property.type !== 'Property' || property.kind !== 'init' || property.computed) return [null, null];
  const { key } = property;
  const name = key.type === 'Identifier' ? key.name : key.type === 'Literal' ? String(key.value) : null;
  return [name === '__proto__' ? null : name, readValue(property.value)];
}

/** A text, number, true, false or path, or null for any other expression. */
function readValue(node: Expression): unknown {
  switch (node.type) {
    case 'Literal':
      return isParameter(node.value) ? node.value : null;
    case 'TemplateLiteral':
      return node.expressions.length === 0 ? node.quasis[0]!.value.cooked : null;
    case 'Identifier':
      return node.name === 'NaN' || node.name === 'Infinity' ? Number(node.name) : null;
    case 'UnaryExpression': {
      const value = readValue(node.argument);
      return node.operator === '-' && typeof value === 'number' ? -value : null;
    }
    case 'CallExpression': {
      const [argument, ...more] = node.arguments;
      const isResolve = node.callee.type === 'Identifier' && node.callee.name === 'resolve';
      if (!isResolve || !argument || argument.type === 'SpreadElement' || more.length > 0) return null;
      const path = readValue(argument);
      return typeof path === 'string' ? { path } : null;
    }
    default:
      return null;
  }
}

/**
 * The head of a literate file with other parameters, its remarks and the form of the rest kept.
 *
 * @returns null when the head cannot be kept and has to be written anew
 */
export function changeParameters(head: string, before: unknown, after: Data): string | null {
  const [, open, yaml, close] = /^(\uFEFF?---[ \t]*\r?\n)([^]*?)((?:---|\.\.\.)[ \t]*(?:\r?\n)?)$/.exec(head) ?? [];
  if (open === undefined || yaml === undefined || close === undefined) return null;
  const document = parseDocument(yaml);
  const old = isData(before) ? before : {};
  for (const name of Object.keys(old)) if (!(name in after)) document.deleteIn(['parameters', name]);
  for (const [name, value] of Object.entries(after)) {
    if (isDeepStrictEqual(value, old[name])) continue;
    if (isPath(value) && isPath(old[name])) document.setIn(['parameters', name, 'path'], value.path);
    else document.setIn(['parameters', name], isData(value) ? document.createNode(value) : value);
  }
  const text = document.toString({ lineWidth: 0 });
  const read: unknown = parseYaml(text);
  if (!isData(read) || !isDeepStrictEqual(read.parameters, after)) return null;
  return open + (open.includes('\r\n') ? text.replaceAll('\n', '\r\n') : text) + close;
}
