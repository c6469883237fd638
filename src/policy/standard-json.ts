import type { HouseStandard, StandardEntry } from './standard.ts';
import type { RuleOfThumb } from './rules-of-thumb.ts';

/** Names of the rules of thumb in the file. */
const ruleNames: Record<RuleOfThumb, string> = {
  '12th exact': 'twelfth_exact',
  '17th exact': 'seventeenth_exact',
  'even split': 'even_split',
  'low strings 12th, high strings split': 'low_exact_high_split',
};

/** Rounds to what a file needs: a thousandth of a cent, a ten-thousandth of a share. */
const round = (value: number, digits: number): number => Number(value.toFixed(digits));

/**
 * `house-standard.json`: the standard as text, by the schema in `shared/house-standard.schema.json`. Entries come in the
 * order of models and strings; figures are rounded to 0.001 cents and 0.0001 of a share.
 */
export function standardJson(standard: HouseStandard): string {
  const { loss, usage, seed } = standard.options;
  const document = {
    version: standard.version,
    created: standard.created,
    inputs: standard.inputs,
    options: {
      loss: loss.kind,
      ...(loss.kind === 'audible' ? { audible_cents: loss.thresholdCents } : {}),
      usage,
      seed,
    },
    notes: standard.notes,
    entries: standard.entries.map(entryJson),
  };
  return `${JSON.stringify(document, null, 2)}\n`;
}

/** One entry with the file's names, in the file's order of columns. */
export function entryJson(entry: StandardEntry): Record<string, unknown> {
  const cents = (value: number): number => round(value, 3);
  return {
    model: entry.model,
    string: entry.string,
    saddle: entry.saddle,
    share: round(entry.share, 4),
    share_low: round(entry.shareLow, 4),
    share_high: round(entry.shareHigh, 4),
    fine_low: round(entry.fineLow, 4),
    fine_high: round(entry.fineHigh, 4),
    clipped: entry.clipped,
    rise: cents(entry.rise),
    rise_low: cents(entry.riseLow),
    rise_high: cents(entry.riseHigh),
    rise_raw: entry.riseRaw === null ? null : cents(entry.riseRaw),
    rise_sd_between: cents(entry.riseSdBetween),
    nut: cents(entry.nut),
    target12: cents(entry.target12),
    target17: cents(entry.target17),
    window: cents(entry.window),
    expected_error: cents(entry.expectedError),
    error_95: cents(entry.error95),
    cost: cents(entry.cost),
    regret: cents(entry.regret),
    instruments: entry.instruments,
    verdict: entry.verdict,
    reason: entry.reason,
    rules: Object.fromEntries(
      Object.entries(entry.rules).map(([rule, cost]) => [ruleNames[rule as RuleOfThumb], cents(cost)]),
    ),
  };
}
