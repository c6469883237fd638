import { resolve } from 'node:path';

/** A value a notebook is given from outside. */
export type Parameter = string | number | boolean;

/** Folders that relative paths start from. */
export interface Bases {
  /** For defaults: the notebook's folder. */
  readonly notebook: string;
  /** For settings: the folder the person is in. */
  readonly settings: string;
}

/**
 * The parameters of a notebook. Its front matter declares each with a default, whose type is the parameter's:
 *
 *     parameters:
 *       audible: 3
 *       logs: { path: ../data/demo }
 *
 * A `path` is given to the cells as an absolute path. A default starts from the notebook's folder, a setting from the
 * folder the person is in.
 *
 * @param settings texts of the form NAME=VALUE; the last of a name counts
 * @throws {RangeError} when a setting names no declared parameter or has not its type, or a declaration has no type
 */
export function notebookParameters(
  metadata: Readonly<Record<string, unknown>>,
  settings: readonly string[],
  bases: Bases,
): Record<string, Parameter> {
  const declared = metadata.parameters ?? {};
  if (typeof declared !== 'object' || declared === null || Array.isArray(declared))
    throw new RangeError('The front matter\'s "parameters" is not a list of names with defaults, such as "audible: 3"');
  const defaults = declared as Record<string, unknown>;
  const values: Record<string, Parameter> = {};
  for (const [name, value] of Object.entries(defaults)) values[name] = defaultValue(name, value, bases.notebook);
  for (const setting of settings) {
    const [name, text] = parseSetting(setting);
    if (!Object.hasOwn(defaults, name)) {
      const names = Object.keys(defaults);
      const expected = names.length > 0 ? `expected one of: ${names.join(', ')}` : 'this notebook declares none';
      throw new RangeError(`There is no parameter "${name}" to set; ${expected}`);
    }
    values[name] = isPath(defaults[name]) ? resolve(bases.settings, text) : typed(name, text, values[name]!);
  }
  return values;
}

function parseSetting(setting: string): [name: string, value: string] {
  const sign = setting.indexOf('=');
  if (sign < 1) throw new RangeError(`Cannot set "${setting}"; expected NAME=VALUE`);
  return [setting.slice(0, sign), setting.slice(sign + 1)];
}

/** Whether a default is a path, `{ path: ... }`. */
export function isPath(value: unknown): value is { readonly path: string } {
  return typeof value === 'object' && value !== null && 'path' in value && typeof value.path === 'string';
}

function defaultValue(name: string, value: unknown, folder: string): Parameter {
  if (isPath(value)) return resolve(folder, value.path);
  if (typeof value === 'string' || typeof value === 'number' || typeof value === 'boolean') return value;
  throw new RangeError(
    `The parameter "${name}" has the default ${JSON.stringify(value)}; expected a text, a number, true, false, or { path: ... }`,
  );
}

function typed(name: string, text: string, like: Parameter): Parameter {
  if (typeof like === 'string') return text;
  if (typeof like === 'boolean') {
    if (text === 'true' || text === 'false') return text === 'true';
    throw new RangeError(`Cannot set ${name} to "${text}"; expected true or false`);
  }
  const number = Number(text);
  if (text.trim() === '' || !Number.isFinite(number))
    throw new RangeError(`Cannot set ${name} to "${text}"; expected a number such as ${like}`);
  return number;
}
