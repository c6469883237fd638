/** Reads the values of a JSON document one by one; each complaint names the file, the place, what was found and what was expected. */
export interface JsonFields {
  /** @throws {RangeError} always */
  refuse(path: string, found: unknown, expected: string): never;
  /** The fields of an object that has these keys and, where given, some of the optional ones; no other. */
  object(value: unknown, path: string, keys: readonly string[], optional?: readonly string[]): Record<string, unknown>;
  list<T>(value: unknown, path: string, item: (value: unknown, path: string) => T, least?: number): T[];
  text(value: unknown, path: string): string;
  number(value: unknown, path: string, range?: NumberRange): number;
  oneOf<T extends string>(value: unknown, path: string, choices: readonly T[]): T;
}

export interface NumberRange {
  readonly least?: number;
  readonly most?: number;
  /** The number must be greater than this. */
  readonly above?: number;
  readonly whole?: boolean;
}

/**
 * A reader of one JSON document's values. A place is written as in `entries[3].share`.
 *
 * @param file   name for messages
 * @param advice what the person can do, put at the end of every message
 */
export function jsonFields(file: string, advice: string): JsonFields {
  const refuse = (path: string, found: unknown, expected: string): never => {
    throw new RangeError(`${file}: ${path}: found ${shown(found)}, expected ${expected}. ${advice}`);
  };
  return {
    refuse,
    object(value, path, keys, optional = []) {
      if (typeof value !== 'object' || value === null || Array.isArray(value)) return refuse(path, value, 'an object');
      const inside = path === 'the file' ? '' : `${path}.`;
      for (const key of keys) if (!Object.hasOwn(value, key)) refuse(`${inside}${key}`, undefined, `a field "${key}"`);
      for (const [key, held] of Object.entries(value))
        if (![...keys, ...optional].includes(key)) refuse(`${inside}${key}`, held, `no field "${key}"`);
      return value as Record<string, unknown>;
    },
    list(value, path, item, least = 0) {
      if (!Array.isArray(value)) return refuse(path, value, 'a list');
      if (value.length < least) refuse(path, value, `a list of at least ${least}`);
      return value.map((one, at) => item(one, `${path}[${at}]`));
    },
    text(value, path) {
      return typeof value === 'string' && value !== '' ? value : refuse(path, value, 'a text');
    },
    number(value, path, range = {}) {
      const { least = -Infinity, most = Infinity, above = -Infinity, whole = false } = range;
      const fits =
        typeof value === 'number' &&
        value >= least &&
        value <= most &&
        value > above &&
        (!whole || Number.isInteger(value));
      return fits ? value : refuse(path, value, rangeText(range));
    },
    oneOf(value, path, choices) {
      const choice = choices.find((one) => one === value);
      return choice ?? refuse(path, value, `one of ${choices.map((one) => `"${one}"`).join(', ')}`);
    },
  };
}

function rangeText({ least, most, above, whole }: NumberRange): string {
  const kind = whole ? 'a whole number' : 'a number';
  if (above !== undefined) return `${kind} above ${above}`;
  if (least === undefined) return kind;
  return most === undefined ? `${kind} from ${least}` : `${kind} from ${least} to ${most}`;
}

/** What stands at a place, short enough for a line. */
function shown(found: unknown): string {
  if (found === undefined) return 'nothing';
  if (Array.isArray(found)) return found.length === 0 ? 'an empty list' : 'a list';
  if (typeof found === 'object' && found !== null) return 'an object';
  const text = JSON.stringify(found);
  return text.length > 60 ? `${text.slice(0, 57)}...` : text;
}
