import type { HouseStandard } from './standard.ts';
import { type Verdict, weightsText } from './verdict.ts';

const signed = (cents: number): string => {
  const text = Math.abs(cents).toFixed(1);
  return text === '0.0' ? '0.0' : `${cents < 0 ? '-' : '+'}${text}`;
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
        name.length > 15 ? `${name.slice(0, 14)}…` : name.padEnd(15),
        String(entry.string).padStart(4),
        weightsText(entry.share).padStart(6),
        signed(entry.target12).padStart(8),
        signed(entry.target17).padStart(8),
        ` ${signed(entry.rise)} (${signed(entry.riseLow)} ${signed(entry.riseHigh)})`.padEnd(18),
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
