/** JSON data with the keys of every object in order, so that equal data are equal texts; undefined is left out. */
export function sorted(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(sorted);
  if (!isData(value)) return value;
  const keys = Object.keys(value).sort();
  return Object.fromEntries(keys.filter((key) => value[key] !== undefined).map((key) => [key, sorted(value[key])]));
}

export type Data = Record<string, unknown>;

/** An object of JSON. */
export function isData(value: unknown): value is Data {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}
