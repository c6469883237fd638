import { escape } from 'html-escaper';
import { pageShell } from '../policy/page-shell.ts';
import type { Adoption } from './adoption.ts';
import {
  adoptionRows,
  adoptionSentences,
  adoptionTitle,
  groupCell,
  groupHeads,
  groupMeasures,
} from './adoption-words.ts';
import {
  oddSentences,
  sightSentences,
  signalSentences,
  sizeSentences,
  summary,
  wantedTitle,
  type ControlReport,
} from './control-text.ts';

/** A figure as the page takes it: the drawing with its words inside. */
export interface PageFigure {
  readonly title: string;
  readonly svg: string;
}

/**
 * The report as one HTML page, no network and no script.
 *
 * @param figures drawings to put between the signals and the rest
 * @param css     the page theme, put into the page as it is
 */
export function controlPage(report: ControlReport, figures: readonly PageFigure[], css: string): string {
  const { control, gauge, sight, sizes, wanted, adoption } = report;
  return pageShell(
    `Bench against the standard of ${control.standard.slice(0, 10)}`,
    [css, pageCss],
    `<main class="control">
<h1>Does the bench follow the standard?</h1>
<p>${escape(summary(control))} Cents, open string exactly in tune, plus is sharp. 0 on a chart is the standard: each string's own rise, shared as the standard says.</p>
${listed('What departs, and what to look at first', signalSentences(control))}
${listed('Instruments unlike those before them', oddSentences(control))}
${figures.map(({ title, svg }) => `<figure aria-label="${escape(title)}">${svg}</figure>`).join('\n')}
${listed(adoptionTitle(adoption), adoptionSentences(adoption))}
${'reason' in adoption ? '' : adoptionTables(adoption)}
${listed('What the bench can see', sightSentences(sight, gauge))}
${listed(wantedTitle(wanted), sizeSentences(sizes))}
${listed('What this rests on', [...control.notes, ...('reason' in adoption ? [] : adoption.notes)])}
</main>`,
  );
}

const pageCss = `.control { display: block; max-width: 42rem; margin: 0 auto; padding: 1rem; overflow-wrap: anywhere; }
.control h1 { margin: 0 0 0.4em; }
.control h2 { margin: 1.4em 0 0.3em; }
.control ul { padding-inline-start: 1.4em; margin: 0; }
.control figure { margin: 1.6em 0; overflow-x: auto; }
.control svg { max-width: 100%; height: auto; }
.control table { border-collapse: collapse; margin: 0.8em 0; font-variant-numeric: tabular-nums; }
.control th, .control td { padding: 0.15em 0.7em 0.15em 0; text-align: right; border-bottom: 1px solid; }
.control th:first-child, .control td:first-child { text-align: left; }
.control .wide { overflow-x: auto; overflow-wrap: normal; }
.control .wide td { white-space: nowrap; }
@media print {
  @page { size: A4; margin: 14mm; }
  .control { padding: 0; max-width: none; font-size: 10pt; }
  .control figure { break-inside: avoid; }
}`;

function listed(title: string, sentences: readonly string[]): string {
  if (sentences.length === 0) return '';
  return `<h2>${escape(title)}</h2>\n<ul>\n${sentences.map((one) => `<li>${escape(one)}</li>`).join('\n')}\n</ul>`;
}

/** The measures before and after, and what each technician and model adds to it. */
function adoptionTables(adoption: Adoption): string {
  const measured = adoptionRows(adoption).map((row) => Object.values(row) as string[]);
  const groups = adoption.groups.map((group) => [
    group.name,
    String(group.before),
    String(group.after),
    ...groupMeasures.map((measure) => groupCell(group, measure)),
  ]);
  return [
    tabled(['', 'before', 'after', 'change', '95 %'], measured),
    tabled(['change ± (95 %)', 'jobs before', 'after', ...groupHeads], groups),
  ].join('\n');
}

function tabled(heads: readonly string[], rows: readonly (readonly string[])[]): string {
  if (rows.length === 0) return '';
  const head = heads.map((one) => `<th>${escape(one)}</th>`).join('');
  const body = rows.map((row) => `<tr>${row.map((one) => `<td>${escape(one)}</td>`).join('')}</tr>`).join('\n');
  return `<div class="wide"><table>\n<tr>${head}</tr>\n${body}\n</table></div>`;
}
