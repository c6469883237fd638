import { readFileSync } from 'node:fs';

/** A small data set of data/reference as columns; a column of numbers becomes numbers. */
export function referenceColumns(name: string): Record<string, number[] | string[]> {
  const text = readFileSync(new URL(`../../data/reference/${name}.csv`, import.meta.url), 'utf8');
  const [header, ...rows] = text
    .trim()
    .split(/\r?\n/)
    .map((line) => line.split(','));
  return Object.fromEntries(
    header!.map((column, j) => {
      const values = rows.map((row) => row[j]!);
      return [column, values.every((value) => Number.isFinite(Number(value))) ? values.map(Number) : values];
    }),
  );
}

export function referenceJson(name: string): unknown {
  return JSON.parse(readFileSync(new URL(`../../data/reference/${name}.json`, import.meta.url), 'utf8'));
}

/** |found - expected| / |expected|, or the absolute difference where 0 is expected. */
export function relativeError(found: number, expected: number): number {
  return Math.abs(found - expected) / (expected === 0 ? 1 : Math.abs(expected));
}
