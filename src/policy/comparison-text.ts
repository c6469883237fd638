import { signed } from '../acoustics/signed.ts';
import { changes, type Change, type EntryChange, type StandardComparison } from './compare-standards.ts';
import { fitted, wrapped } from './plain-text.ts';
import type { StandardEntry } from './standard.ts';
import { weightsText } from './verdict.ts';

const meanings: Record<Change, string> = {
  new: 'not in the earlier standard',
  gone: 'no longer in the standard',
  reset: 'a saddle set by the earlier one now reads outside the window',
  'new card': 'the card changes, saddles may stay',
  'as before': 'nothing changes for the bench',
};

const plain = (cents: number): string => signed(cents, 1, '-');

/** A comparison as plain text, at most 80 columns wide: what changed for the bench, string by string, and why. */
export function comparisonText({ before, after, options, entries, counts }: StandardComparison): string {
  // To the day, or to the minute where both were drawn up on one day.
  const when = (created: string): string =>
    before.slice(0, 10) === after.slice(0, 10) ? created.slice(0, 16).replace('T', ' ') : created.slice(0, 10);
  const lines = [
    `From the standard of ${when(before)} to that of ${when(after)}:`,
    ...changes.map((change) => `${String(counts[change]).padStart(5)}  ${change.padEnd(10)} ${meanings[change]}`),
    ...(options.length > 0 ? ['', ...options.map((option) => wrapped(`Asked for differently, ${option}.`, 78))] : []),
  ];
  const changed = entries.filter(({ change }) => change !== 'as before');
  if (changed.length === 0) return `${lines.join('\n')}\n`;
  lines.push('', 'model         string       12/17           at 12th         at 17th  change', '-'.repeat(80));
  let model = '';
  for (const entry of changed) {
    lines.push(row(entry, entry.model === model ? '' : entry.model));
    for (const reason of entry.why)
      lines.push(`${' '.repeat(16)}${wrapped(reason, 62).replaceAll('\n', `\n${' '.repeat(16)}`)}`);
    model = entry.model;
  }
  return `${lines.join('\n')}\n`;
}

function row({ before, after, string, change }: EntryChange, name: string): string {
  const pair = (show: (entry: StandardEntry) => string): string => {
    const [old, now] = [before, after].map((entry) => (entry ? show(entry) : ''));
    return old === now || old === '' || now === '' ? `${old}${old === now ? '' : now}` : `${old} > ${now}`;
  };
  return [
    fitted(name, 15),
    String(string).padStart(4),
    pair(({ share }) => weightsText(share)).padStart(15),
    pair(({ target12 }) => plain(target12)).padStart(15),
    pair(({ target17 }) => plain(target17)).padStart(15),
    ` ${change}`,
  ].join(' ');
}
