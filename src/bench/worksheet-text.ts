import { fitted, wrapped } from '../policy/plain-text.ts';
import { amountText, signedCents, waitText } from './move-words.ts';
import { cautions } from './cautions.ts';
import type { SaddleStory, StringPlan } from './saddle-story.ts';
import type { Worksheet } from './worksheet.ts';

/** The worksheet as plain text, at most 80 columns wide: what to check first, a row a string, the rest. */
export function worksheetText(sheet: Worksheet): string {
  const lines = [wrapped(`${sheet.instrument}, ${sheet.model}, pass ${sheet.pass}`, 80)];
  const block = (title: string, sentences: readonly string[]): void => {
    if (sentences.length > 0) lines.push('', title, ...sentences.map((one) => wrapped(`- ${one}`, 78)));
  };
  block('Check first', sheet.checks);
  lines.push('', 'string   12th   17th  set 12th to  saddle                      then 12th  17th', '-'.repeat(80));
  for (const saddle of sheet.saddles)
    saddle.strings.forEach((plan, at) => lines.push(row(plan, at === 0 ? moveText(saddle) : '  with it')));
  block('The last move', sheet.answers);
  block('What this rests on', sheet.notes);
  block('Mind', cautions);
  return `${lines.join('\n')}\n`;
}

function row(plan: StringPlan, move: string): string {
  const cents = (value: number | null, width: number): string =>
    (value === null ? '-' : signedCents(value)).padStart(width);
  const then = (value: number | null, width: number): string =>
    (value === null ? '' : signedCents(value)).padStart(width);
  return [
    String(plan.string).padStart(4),
    cents(plan.read12, 8),
    cents(plan.read17, 6),
    // What an open string out of tune reads is no ground for a target.
    (plan.predicted12 === null ? '' : `${signedCents(plan.target)} ± ${plan.window.toFixed(1)}`).padStart(12),
    ` ${fitted(move, 30)}`,
    then(plan.predicted12, 6),
    then(plan.predicted17, 5),
  ]
    .join(' ')
    .trimEnd();
}

/** What to do to a saddle in a line: `back 0.95 mm, 1 3/8 turns`. */
export function moveText(saddle: SaddleStory): string {
  const { move, madeMm } = saddle;
  if (!move) return waitText(saddle);
  if (move.action === 'leave') return move.reach === 'beyond' ? 'at the end of its travel' : 'leave it';
  return `${move.action} ${amountText(move, madeMm, ', ')}`;
}

/** What each of several worksheets asks for, a line an instrument, at most 80 columns wide. */
export function worksheetContents(sheets: readonly Worksheet[], files: readonly string[]): string {
  const line = (instrument: string, model: string, pass: string, what: string, file: string): string =>
    `${fitted(instrument, 12)} ${fitted(model, 12)} ${pass.padStart(4)}  ${fitted(what, 27)} ${fitted(file, 20)}`.trimEnd();
  const rows = sheets.map(({ instrument, model, pass, saddles, checks }, at) => {
    const moves = saddles.filter(({ move }) => move && move.action !== 'leave').length;
    const unread = saddles.filter(({ move }) => !move).length;
    const what = [
      checks.length > 0 ? 'check first' : '',
      moves > 0 ? `move ${moves} of ${saddles.length}` : unread < saddles.length ? 'leave all' : '',
      unread > 0 ? `read ${unread} again` : '',
    ];
    return line(instrument, model, String(pass), what.filter((one) => one !== '').join(', '), files[at]!);
  });
  return `${[line('instrument', 'model', 'pass', 'saddles', 'file'), '-'.repeat(80), ...rows].join('\n')}\n\n"--instrument ID" prints one of them here.\n`;
}
