import { csvText } from '../logs/csv-text.ts';
import { entryJson } from './standard-json.ts';
import type { HouseStandard } from './standard.ts';

/** `house-standard.csv`: the entries of `house-standard.json` as a table, one row per model and string, for a spreadsheet. */
export function standardCsv(standard: HouseStandard): string {
  const rows = standard.entries.map((entry) => {
    const { saddle, rules, ...plain } = entryJson(entry);
    const costs = Object.entries(rules as Record<string, number>).map(
      ([rule, cost]) => [`cost_${rule}`, cost] as const,
    );
    return { ...plain, saddle: (saddle as number[]).join('|'), ...Object.fromEntries(costs) };
  });
  return csvText(
    Object.keys(rows[0] ?? {}),
    rows.map((row) => Object.values(row)),
  );
}
