import { signed } from '../acoustics/signed.ts';
import { fitted } from './plain-text.ts';
import type { HouseStandard } from './standard.ts';
import { type Verdict, weightsText } from './verdict.ts';

const plain = (cents: number): string => signed(cents, 1, '-');

/** A rise with its interval in at most 18 columns: whole cents where tenths would not fit. */
const interval = (estimate: number, low: number, high: number): string => {
  const text = `${plain(estimate)} (${plain(low)} ${plain(high)})`;
  const whole = (cents: number): string => `${cents < 0 ? '-' : '+'}${Math.abs(cents).toFixed(0)}`;
  return text.length < 18 ? text : `${whole(estimate)} (${whole(low)} ${whole(high)})`;
};

/** The standard as a table of plain text, at most 80 columns wide, string by string. */
export function standardText(standard: HouseStandard): string {
  const lines = ['model         string  12/17  at 12th  at 17th  rise (95 %)         n  advice', '-'.repeat(80)];
  let before = '';
  for (const entry of standard.entries) {
    const name = entry.model === before ? '' : entry.model;
    before = entry.model;
    lines.push(
      [
        fitted(name, 15),
        String(entry.string).padStart(4),
        weightsText(entry.share).padStart(6),
        plain(entry.target12).padStart(8),
        plain(entry.target17).padStart(8),
        ` ${interval(entry.rise, entry.riseLow, entry.riseHigh)}`.padEnd(18),
        String(entry.instruments).padStart(4),
        ` ${shortVerdict[entry.verdict]}`,
      ].join(' '),
    );
  }
  return `${lines.join('\n')}\n`;
}

/** Verdicts in at most eight letters; the card has them in full. */
const shortVerdict: Record<Verdict, string> = {
  '12th exact': '12th',
  split: 'split',
  'favour the 17th': '17th',
  either: 'either',
  'measure more first': 'measure',
};
