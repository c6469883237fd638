import type { StandardComparison } from './compare-standards.ts';
import { entryJson } from './standard-json.ts';

/** A comparison of two standards for programs; entries have the fields of `house-standard.json`, null where they do not stand. */
export function comparisonJson({ before, after, options, entries, counts }: StandardComparison): string {
  const document = {
    version: 1,
    before,
    after,
    options,
    counts: Object.fromEntries(Object.entries(counts).map(([change, count]) => [change.replace(' ', '_'), count])),
    entries: entries.map((entry) => ({
      model: entry.model,
      string: entry.string,
      change: entry.change,
      why: entry.why,
      before: entry.before && entryJson(entry.before),
      after: entry.after && entryJson(entry.after),
    })),
  };
  return `${JSON.stringify(document, null, 2)}\n`;
}
