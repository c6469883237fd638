import { signed } from '../acoustics/signed.ts';
import { escape } from 'html-escaper';
import { moveCents } from '../acoustics/saddle.ts';
import type { ModelSpec } from '../logs/models.ts';
import { pageShell } from './page-shell.ts';
import type { HouseStandard, StandardEntry } from './standard.ts';
import { weightsText } from './verdict.ts';

/**
 * The bench card: one HTML page, no network and no script, that prints one sheet per model.
 *
 * @param css the page theme, put into the page as it is
 */
export function benchCard(standard: HouseStandard, specs: readonly ModelSpec[], css: string): string {
  const models = [...new Set(standard.entries.map((entry) => entry.model))];
  const sheets = models.map((model) =>
    sheet(
      model,
      standard,
      standard.entries.filter((entry) => entry.model === model),
      specs.find((spec) => spec.model === model),
    ),
  );
  return pageShell(
    `Bench card of ${standard.created.slice(0, 10)}`,
    [css, cardCss],
    `<main class="cards">
${sheets.join('\n')}
</main>`,
  );
}

const cardCss = `.cards { display: block; max-width: 62rem; margin: 0 auto; padding: 1rem; }
.card { margin: 0 0 4rem; }
.card h1 { margin: 0 0 0.2em; overflow-wrap: anywhere; }
.card.full h1 { font-size: 1.1em; }
.card h2 { margin: 1em 0 0.3em; }
.card .scroll { overflow-x: auto; }
.card table { width: 100%; }
.card td, .card thead th { text-align: end; }
.card thead th:first-child, .card th:last-child, .card td:last-child { text-align: start; }
.card td:last-child { font-size: 0.9em; }
.card td.target { font-size: 1.2em; font-weight: 600; white-space: nowrap; }
.card small { color: var(--quiet); white-space: nowrap; }
.card ol, .card ul { padding-inline-start: 1.4em; margin: 0; }
@media print {
  @page { size: A4; margin: 12mm; }
  .cards { padding: 0; max-width: none; }
  .card { break-after: page; break-inside: avoid; margin: 0; font-size: 9.5pt; line-height: 1.4; }
  .card:last-child { break-after: auto; }
  .card .scroll { overflow: visible; }
  .card th, .card td { padding-inline: 0.35rem; }
  .card td:last-child { width: 42%; }
  .card.full { font-size: 8.5pt; line-height: 1.25; }
  .card.full th, .card.full td { padding-block: 0.05rem; }
  .card.full h2 { margin: 0.6em 0 0.2em; font-size: 1.2em; }
}`;

/** Lines of the table that a sheet takes in the larger letters, and letters of advice and of a heading to a line of it. */
const paper = { lines: 30, advice: 42, heading: 30 } as const;

/** Whether a card needs the smaller letters to stay on one sheet. */
function isFull(model: string, entries: readonly StandardEntry[]): boolean {
  const ofAdvice = entries.map(({ verdict, reason }) =>
    Math.max(2, Math.ceil((verdict.length + reason.length) / paper.advice)),
  );
  const heading = 2 * (Math.ceil(model.length / paper.heading) - 1);
  return ofAdvice.reduce((sum, lines) => sum + lines, heading) > paper.lines;
}

function sheet(
  model: string,
  standard: HouseStandard,
  entries: readonly StandardEntry[],
  spec: ModelSpec | undefined,
): string {
  const shared = [
    ...new Set(entries.filter(({ saddle }) => saddle.length > 1).map(({ saddle }) => saddle.join(' and '))),
  ];
  const rows = entries.map((entry) => {
    return `<tr><th scope="row">${entry.string}</th><td class="target">${signed(entry.target12)} ± ${entry.window.toFixed(1)}</td><td class="target">${signed(entry.target17)}</td><td>${weightsText(entry.share)}<br><small>${weightsText(entry.fineLow)} to ${weightsText(entry.fineHigh)}</small></td><td>${signed(entry.rise)} <small>(${signed(entry.riseLow)} to ${signed(entry.riseHigh)})</small></td><td>${entry.instruments}</td><td><strong>${escape(entry.verdict)}</strong>: ${escape(entry.reason)}</td></tr>`;
  });
  return `<section class="card${isFull(model, entries) ? ' full' : ''}">
<h1>${escape(model)}</h1>
<p>House standard of ${escape(standard.created.slice(0, 10))}. Cents, open string exactly in tune, plus is sharp. String 1 is the thinnest.</p>
<div class="scroll">
<table>
<caption>What the 12th and the 17th fret should read when the saddle is set</caption>
<thead><tr><th scope="col">String</th><th scope="col">At the 12th</th><th scope="col">At the 17th</th><th scope="col">Weights 12th/17th <small>(as good)</small></th><th scope="col">Rise of this model</th><th scope="col">Instruments</th><th scope="col">Advice</th></tr></thead>
<tbody>
${rows.join('\n')}
</tbody>
</table>
</div>
<h2>At the bench</h2>
<ol>
<li>Tune the open string exactly. Read the 12th, then the 17th, in playing position and with normal pressure.</li>
<li>12th above its target: the saddle goes back, away from the neck. Below: forward. ${moveHint(spec)}</li>
<li>Retune the open string and read again. Inside the window: leave it.</li>
<li>An instrument that rises unlike its model: take its own rise t = 17th − 1.67 × 12th, and set the 12th to −t times the weight of the 17th ÷ 1.67.</li>
</ol>
${shared.length > 0 ? `<p>Strings ${escape(shared.join('; '))} share a saddle: they have one weight, and a move shifts them together.</p>` : ''}
<h2>Mind</h2>
<ul>
<li>Slacken the string before you move a saddle that carries its pull, and protect your eyes: a string can break under tension.</li>
<li>Wood and metal tolerances differ; stop where a screw or the saddle's travel ends. The maker's instructions and your local rules come first.</li>
<li>Unplug a mains device, and take the battery out, before you open anything electric; leave mains work to a qualified person.</li>
</ul>
</section>`;
}

/** What a turn or a millimetre of saddle does at the 12th, from the model's own scale and screw. */
function moveHint(spec: ModelSpec | undefined): string {
  if (!spec) return '';
  const perMm = moveCents(12, 1, { scaleMm: spec.scaleMm, setbackMm: 0 });
  const hint = `1 mm back lowers the 12th by ${(-perMm).toFixed(1)} cents and the 17th by 1.67 times that`;
  return spec.mmPerTurn === null
    ? `${hint}.`
    : `${hint}; one turn is ${spec.mmPerTurn} mm, ${(-perMm * spec.mmPerTurn).toFixed(1)} cents.`;
}
