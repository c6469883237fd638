import { signed } from '../acoustics/signed.ts';
import { escape } from 'html-escaper';
import { moveCents } from '../acoustics/saddle.ts';
import { pageShell } from '../policy/page-shell.ts';
import type { HouseStandard } from '../policy/standard.ts';
import { amountText, directionText, waitText } from './move-words.ts';
import { cautions } from './cautions.ts';
import type { SaddleStory, StringPlan } from './saddle-story.ts';
import type { Worksheet } from './worksheet.ts';

/**
 * The worksheet of one instrument: one HTML page, no network and no script, that prints on one A4 sheet and has room to write
 * down the next readings.
 *
 * @param css the page theme, put into the page as it is
 */
export function worksheetPage(sheet: Worksheet, standard: HouseStandard, css: string): string {
  const rows = sheet.saddles.reduce((sum, { strings }) => sum + strings.length, 0);
  const { checks, answers, notes, isFull } = fitted(sheet, rows);
  return pageShell(
    `Worksheet for ${sheet.instrument}`,
    [css, sheetCss],
    `<main class="sheet${isFull ? ' full' : ''}">
<h1>${escape(sheet.instrument)}</h1>
<p>${escape(sheet.model)}, pass ${sheet.pass}. House standard of ${escape(standard.created.slice(0, 10))}. Cents, open string exactly in tune, plus is sharp. String 1 is the thinnest. Rise: 17th − 1.67 × 12th, which no saddle changes.</p>
${sectionOf('Check first', checks, 'check')}
<div class="scroll">
<table>
<caption>What to do to each saddle, and what the string should read then</caption>
<thead>
<tr><th scope="col" rowspan="2">String</th><th scope="colgroup" colspan="2">Read</th><th scope="colgroup" colspan="2">Rise</th><th scope="col" rowspan="2">Set the 12th to</th><th scope="col" rowspan="2" class="move">Saddle</th><th scope="colgroup" colspan="2">Should then read</th><th scope="colgroup" colspan="2" class="blank">Next reading</th></tr>
<tr><th scope="col">12th</th><th scope="col">17th</th><th scope="col">read</th><th scope="col">usual</th><th scope="col">12th</th><th scope="col">17th</th><th scope="col" class="blank">12th</th><th scope="col" class="blank">17th</th></tr>
</thead>
${sheet.saddles.map(saddleRows).join('\n')}
</table>
</div>
${sectionOf('The last move', answers)}
<h2>At the bench</h2>
<ol>
<li>Slacken the string, move the saddle (back is away from the neck), tune the open string exactly, and read the 12th and the 17th again, in playing position and with normal pressure.${turnHint(sheet)}</li>
<li>Inside the window (±): leave it. Outside: log the readings as the next pass and make the next worksheet; it learns from how the saddle answered.</li>
</ol>
${sectionOf('What this rests on', notes)}
${sectionOf('Mind', cautions)}
</main>`,
  );
}

const sheetCss = `.sheet { display: block; max-width: 62rem; margin: 0 auto; padding: 1rem; }
.sheet h1 { margin: 0 0 0.2em; overflow-wrap: anywhere; }
.sheet h2 { margin: 1em 0 0.3em; }
.sheet p { margin: 0 0 0.6em; overflow-wrap: anywhere; }
.sheet .scroll { overflow-x: auto; }
.sheet table { width: 100%; }
.sheet td, .sheet thead th { text-align: end; white-space: nowrap; }
.sheet thead th { border-bottom: 1px solid var(--rule); vertical-align: bottom; }
.sheet thead tr:last-child th, .sheet thead th[rowspan] { border-bottom: 2px solid var(--quiet); }
.sheet thead th:first-child[rowspan], .sheet tbody th, .sheet .move { text-align: start; }
.sheet thead th[colspan] { text-align: center; }
.sheet th, .sheet td { padding-inline: 0.5rem; }
.sheet td.move { font-size: 1.15em; font-weight: 600; }
.sheet td.move small { white-space: normal; font-size: 0.75em; font-weight: 400; }
.sheet td small { color: var(--quiet); }
.sheet td.leave { font-weight: 400; color: var(--quiet); }
.sheet .blank { min-width: 3.4em; border-inline-start: 1px solid var(--rule); }
.sheet ol, .sheet ul { padding-inline-start: 1.4em; margin: 0; }
.sheet li { overflow-wrap: anywhere; }
.sheet .check { border-inline-start: 3px solid var(--alarm); padding-inline-start: 0.8rem; margin: 0 0 0.8rem; }
.sheet .check h2 { margin-top: 0; }
@media screen {
  /* Room to write by hand. */
  .sheet .blank { display: none; }
}
@media print {
  @page { size: A4; margin: 12mm; }
  .sheet { padding: 0; max-width: none; font-size: 11.5pt; line-height: 1.4; }
  .sheet table { font-size: 9.25pt; }
  .sheet td.move { font-size: 1.1em; }
  .sheet thead th { white-space: normal; }
  .sheet th, .sheet td { padding-inline: 0.3rem; }
  .sheet.full { font-size: 9pt; line-height: 1.3; }
  .sheet.full table { font-size: 8.5pt; margin-block: 0.3rem 0.6rem; }
  .sheet.full th, .sheet.full td { padding-block: 0.12rem; }
  .sheet.full td.move small, .sheet.full td.move br { display: none; }
  .sheet h1 { font-size: 1.6em; }
  .sheet h2 { font-size: 1.15em; margin: 0.7em 0 0.2em; }
  .sheet .scroll { overflow: visible; }
}`;

/** Lines that rows and sentences may take on paper beside what every sheet has, in the larger letters and in the smaller. */
const paper = {
  larger: { lines: 23, row: 1.8, letters: 85 },
  smaller: { lines: 42, row: 1.7, letters: 105 },
} as const;
/** Lines that a heading takes. */
const headingLines = 1.8;

/** The sentences that the sheet has room for, in turn from each list; what is left out is counted, and is in worksheets.json. */
function fitted(
  { checks, answers, notes }: Pick<Worksheet, 'checks' | 'answers' | 'notes'>,
  rows: number,
): Record<'checks' | 'answers' | 'notes', readonly string[]> & { readonly isFull: boolean } {
  const lists = [checks, answers, notes];
  const headings = headingLines * lists.filter((list) => list.length > 0).length;
  const linesOf = (one: string, letters: number): number => Math.ceil(one.length / letters);
  const { larger, smaller } = paper;
  const whole = lists.flat().reduce((sum, one) => sum + linesOf(one, larger.letters), 0);
  if (rows * larger.row + headings + whole <= larger.lines) return { checks, answers, notes, isFull: false };
  let room = smaller.lines - rows * smaller.row - headings - lists.length;
  const shown = lists.map((): string[] => []);
  for (let turn = 0; lists.some((list) => turn < list.length); turn++)
    for (const [at, list] of lists.entries()) {
      const next = list[turn];
      if (next === undefined || shown[at]!.length < turn) continue;
      room -= linesOf(next, smaller.letters);
      if (room >= 0) shown[at]!.push(next);
    }
  const [a, b, c] = lists.map((list, at) => {
    const more = list.length - shown[at]!.length;
    return more > 0 ? [...shown[at]!, `And ${more} more, in worksheets.json.`] : shown[at]!;
  }) as [string[], string[], string[]];
  return { checks: a, answers: b, notes: c, isFull: true };
}

function sectionOf(title: string, sentences: readonly string[], name = 'notes'): string {
  if (sentences.length === 0) return '';
  const items = sentences.map((one) => `<li>${escape(one)}</li>`);
  return `<section class="${name}">\n<h2>${title}</h2>\n<ul>\n${items.join('\n')}\n</ul>\n</section>`;
}

function saddleRows(saddle: SaddleStory): string {
  const rows = saddle.strings.map((plan, at) => {
    const span = saddle.strings.length > 1 ? ` rowspan="${saddle.strings.length}"` : '';
    const isLeft = saddle.move?.action === 'leave';
    const move = at > 0 ? '' : `<td class="move${isLeft ? ' leave' : ''}"${span}>${moveCell(saddle)}</td>`;
    return `<tr><th scope="row">${plan.string}</th>${readCell(plan.read12)}${readCell(plan.read17)}${riseCells(plan)}<td>${plan.predicted12 === null ? '' : `${signed(plan.target)} ± ${plan.window.toFixed(1)}`}</td>${move}${thenCells(plan)}<td class="blank"></td><td class="blank"></td></tr>`;
  });
  return `<tbody>\n${rows.join('\n')}\n</tbody>`;
}

function readCell(cents: number | null): string {
  return `<td>${cents === null ? '<small>not read</small>' : signed(cents)}</td>`;
}

/** As read, in bold where 95 of 100 sound strings are nearer to the usual. */
function riseCells({ measured, expected, usual }: StringPlan): string {
  const read = measured === null ? '' : signed(measured);
  const isUnusual = measured !== null && Math.abs(measured - expected) > usual;
  return `<td>${isUnusual ? `<strong>${read}</strong>` : read}</td><td><small>${signed(expected)} ± ${usual.toFixed(1)}</small></td>`;
}

function thenCells({ predicted12, predicted17 }: StringPlan): string {
  return [predicted12, predicted17].map((cents) => `<td>${cents === null ? '' : signed(cents)}</td>`).join('');
}

function moveCell(saddle: SaddleStory): string {
  const { move, madeMm } = saddle;
  if (!move) return waitText(saddle);
  if (move.action === 'leave') return move.reach === 'beyond' ? 'at the end of its travel' : 'leave it';
  const [short, whither] = directionText(move.action).split(', ') as [string, string];
  const end = move.reach === 'beyond' ? ', to its end' : '';
  return `${short} ${onPage(amountText(move, madeMm, ' · '))}<br><small>${whither}${end}</small>`;
}

/** Fractions with the signs that a page has for them. */
function onPage(turns: string): string {
  const signs = { '1/8': '⅛', '1/4': '¼', '3/8': '⅜', '1/2': '½', '5/8': '⅝', '3/4': '¾', '7/8': '⅞' };
  return Object.entries(signs)
    .reduce((text, [plain, sign]) => text.replace(plain, sign), turns)
    .replace(/(\d) (?=[⅛¼⅜½⅝¾⅞])/, '$1');
}

function turnHint({ facts }: Worksheet): string {
  const perMm = -moveCents(12, 1, { scaleMm: facts.scaleMm, setbackMm: 0 });
  const mm = ` 1 mm back lowers the 12th by ${perMm.toFixed(1)} cents and the 17th by 1.67 times that`;
  return facts.mmPerTurn === null
    ? `${mm}.`
    : `${mm}; one turn is ${facts.mmPerTurn} mm, ${(perMm * facts.mmPerTurn).toFixed(1)} cents.`;
}
