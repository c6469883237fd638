import { signed } from '../acoustics/signed.ts';
import { escape } from 'html-escaper';
import type { HouseStandard } from '../policy/standard.ts';
import { standardText } from '../policy/standard-text.ts';
import { weightsText } from '../policy/verdict.ts';
import { mimeSymbol } from './figure.ts';

/** A house standard that a notebook shows as a table, and as `standardText` where only text can be shown. */
export interface StandardTable {
  [mimeSymbol](): { readonly 'text/html': string; readonly 'text/plain': string };
}

/** The standard as a table, one row a string. */
export function standardTable(standard: HouseStandard): StandardTable {
  const head = [
    'Model',
    'String',
    'Weights 12th/17th',
    'At the 12th',
    'At the 17th',
    'Rise (95 %)',
    'Instruments',
    'Advice',
  ];
  const rows = standard.entries.map((entry) => {
    const cells = [
      String(entry.string),
      weightsText(entry.share),
      `${signed(entry.target12)} ± ${entry.window.toFixed(1)}`,
      signed(entry.target17),
      `${signed(entry.rise)} (${signed(entry.riseLow)} to ${signed(entry.riseHigh)})`,
      String(entry.instruments),
    ];
    return `<tr><th scope="row">${escape(entry.model)}</th>${cells.map((cell) => `<td class="number">${cell}</td>`).join('')}<td>${escape(entry.verdict)}</td></tr>`;
  });
  const html = `<table><caption>House standard, cents</caption><thead><tr>${head.map((name) => `<th scope="col">${name}</th>`).join('')}</tr></thead><tbody>${rows.join('')}</tbody></table>`;
  return { [mimeSymbol]: () => ({ 'text/html': html, 'text/plain': standardText(standard) }) };
}
