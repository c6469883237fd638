import type { HouseStandard } from './standard.ts';

const signed = (cents: number): string => {
  const text = Math.abs(cents).toFixed(1);
  return text === '0.0' ? '0.0' : `${cents < 0 ? '-' : '+'}${text}`;
};

/** The standard as a table of plain text, at most 80 columns wide, string by string. */
export function standardText(standard: HouseStandard): string {
  const lines = ['model          string  12/17   at 12th  at 17th  rise (95 %)        n  advice', '-'.repeat(80)];
  let before = '';
  for (const entry of standard.entries) {
    const to17 = Math.round(entry.share * 20) * 5;
    const name = entry.model === before ? '' : entry.model.length > 14 ? `${entry.model.slice(0, 13)}…` : entry.model;
    before = entry.model;
    lines.push(
      [
        name.padEnd(14),
        String(entry.string).padStart(6),
        ` ${`${100 - to17}/${to17}`.padStart(6)}`,
        signed(entry.target12).padStart(8),
        signed(entry.target17).padStart(8),
        ` ${`${signed(entry.rise)} (${signed(entry.riseLow)} ${signed(entry.riseHigh)})`.padEnd(17)}`,
        String(entry.instruments).padStart(3),
        ` ${entry.verdict}`,
      ].join(' '),
    );
  }
  return `${lines.join('\n')}\n`;
}
