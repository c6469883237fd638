import { skipReasons } from './musicxml.ts';
import type { Playing } from './usage-files.ts';
import type { Usage } from './usage.ts';

/** Strings that a table of 80 columns has room for. */
const mostStrings = 9;

/**
 * A usage as a table of plain text, at most 80 columns wide: a row a fret, a column a string, and what share of the fretted
 * notes lies at the fret. Counts have one decimal where they are no whole numbers.
 */
export function usageText(usage: Usage): string {
  const strings = [...usage.keys()].sort((a, b) => a - b);
  const frets = [...new Set([...usage.values()].flatMap((counts) => [...counts.keys()]))].sort((a, b) => a - b);
  const at = (string: number, fret: number): number => usage.get(string)?.get(fret) ?? 0;
  const total = (of: readonly number[], fret: number): number => of.reduce((sum, string) => sum + at(string, fret), 0);
  const fretted = frets.reduce((sum, fret) => sum + (fret > 0 ? total(strings, fret) : 0), 0);
  const shown = strings.slice(0, strings.length > mostStrings ? mostStrings - 1 : mostStrings);
  const others = strings.slice(shown.length);
  const line = (first: string, cells: readonly string[], share: string): string =>
    `${first.padStart(4)}${cells.map((cell) => cell.padStart(7)).join('')}${share.padStart(9)}`.trimEnd();
  const head = line(
    'fret',
    [...shown.map((string) => `str ${string}`), ...(others.length > 0 ? ['others'] : [])],
    'share',
  );
  const body = frets.map((fret) =>
    line(
      String(fret),
      [...shown.map((string) => count(at(string, fret))), ...(others.length > 0 ? [count(total(others, fret))] : [])],
      fret === 0 ? 'open' : `${((100 * total(strings, fret)) / fretted).toFixed(1)} %`,
    ),
  );
  return `${[head, '-'.repeat(head.length), ...body].join('\n')}\n`;
}

/** A count in at most six columns. */
function count(value: number): string {
  if (value === 0) return '.';
  if (value >= 1e6) return value.toExponential(0);
  const tenths = value.toFixed(1);
  return Number.isInteger(value) || tenths.length > 6 ? value.toFixed(0) : tenths === '0.0' ? '<0.1' : tenths;
}

/** Sentences on what was counted in a file and what was skipped, and why. */
export function playingNotes({ file, unit, notes, counted, skipped, remarks }: Playing): string[] {
  if (unit === 'counts') return [...remarks];
  const rest = notes - counted;
  return [
    `${file}: ${counted} of ${notes} notes counted, ${rest} skipped.`,
    ...skipped.map((each) => `Skipped (${each.notes}): ${skipReasons[each.reason]}; the first is at ${each.first}.`),
    ...remarks,
  ];
}
