import { signed } from '../acoustics/signed.ts';
import { fitted, oneLine, wrapped } from '../policy/plain-text.ts';
import type { AdoptionReport } from './adoption.ts';
import { adoptionSentences, adoptionTables, adoptionTitle } from './adoption-words.ts';
import type { BenchSight } from './bench-sight.ts';
import type { ControlChart } from './control-chart.ts';
import { oddWords, signalWords } from './control-words.ts';
import type { LogGauge } from './gauge-of-log.ts';
import { dayText } from './instant.ts';
import type { SampleSize, Wanted } from './sample-size.ts';
import type { ShopControl } from './shop-control.ts';

/** What `upneck control` reports. */
export interface ControlReport {
  readonly control: ShopControl;
  readonly gauge: LogGauge;
  /** What the bench can see of a saddle error, for the standard's shares at their middle; and the scale length meant. */
  readonly sight: BenchSight & { readonly scaleMm: number; readonly handsCounted: boolean };
  readonly sizes: readonly SampleSize[];
  readonly wanted: Wanted;
  /** Before and after the standard was taken up. */
  readonly adoption: AdoptionReport;
}

const plain = (cents: number): string => signed(cents, 1, '-');

/** The report as plain text, at most 80 columns wide: what departs and why first, then the charts in numbers. */
export function controlText({ control, gauge, sight, sizes, wanted, adoption }: ControlReport): string {
  const lines: string[] = [summary(control), ''];
  const block = (title: string, sentences: readonly string[]): void => {
    if (sentences.length > 0) lines.push(title, ...sentences.map((one) => wrapped(`- ${one}`, 78)), '');
  };
  block('What departs, and what to look at first', signalSentences(control));
  block('Instruments unlike those before them', oddSentences(control));
  lines.push(...chartTable(control.charts), '');
  block(adoptionTitle(adoption), adoptionSentences(adoption));
  if (!('reason' in adoption)) lines.push(...adoptionTables(adoption));
  block('What the bench can see', sightSentences(sight, gauge));
  block(wantedTitle(wanted), sizeSentences(sizes));
  block('What this rests on', [...control.notes, ...('reason' in adoption ? [] : adoption.notes)]);
  return `${lines.join('\n').trimEnd()}\n`;
}

/** How many strings were left within their window. */
export function summary({ instruments, strings, within, window, standard }: ShopControl): string {
  if (strings === 0) return `No instrument was left that the standard of ${standard.slice(0, 10)} can judge.`;
  return `${instruments.length} ${instruments.length === 1 ? 'instrument' : 'instruments'} as left, against the standard of ${standard.slice(0, 10)}: ${within} of ${strings} strings\nwithin their window (on average ±${window.toFixed(1)} cents at the 12th).`;
}

/** Each signal as two sentences, or one that there is none. */
export function signalSentences({ signals, charts, window }: ShopControl): string[] {
  if (signals.length > 0)
    return signals.map((signal) => {
      const { what, cause } = signalWords(signal, window);
      return `${what} ${cause}`;
    });
  return charts.some(({ judged }) => judged)
    ? ['Nothing departs from the standard for long.']
    : ['Too few instruments to judge.'];
}

/** The latest instruments that stand out. */
export function oddSentences({ odd }: ShopControl): string[] {
  const latest = [...odd].sort((a, b) => b.at - a.at);
  const more = latest.length - mostOdd;
  return [
    ...latest.slice(0, mostOdd).map(oddWords),
    ...(more > 0 ? [`And ${more} before these; --json has all.`] : []),
  ];
}

const mostOdd = 8;

function chartTable(charts: readonly ControlChart[]): string[] {
  const rows = charts
    .filter(({ points }) => points.length > 0)
    .map(({ kind, name, points, judged, sigma, departures }) => {
      const mean = points.reduce((sum, { departure }) => sum + departure, 0) / points.length;
      const state = !judged
        ? 'too few to judge'
        : (departures.findLast(({ lasts }) => lasts)?.side ?? 'on the standard');
      const last = points.at(-1)!;
      return [
        fitted(kind === 'shop' ? 'the shop' : name, 18),
        String(points.length).padStart(5),
        plain(mean).padStart(7),
        (judged ? sigma.toFixed(1) : '-').padStart(9),
        (judged ? plain(last.average) : '-').padStart(7),
        `  ${dayText(last.at)}  ${state}`,
      ].join('');
    });
  if (rows.length === 0) return ['No dated instruments: nothing to chart.'];
  return ['                   left   mean  scatter    now  last        state', '-'.repeat(80), ...rows];
}

/** The smallest saddle error that the bench can see, and what a gauge study says of the readings. */
export function sightSentences(
  { windowCents, windowMm, seenCents, seenMm, scaleMm, handsCounted }: ControlReport['sight'],
  gauge: LogGauge,
): string[] {
  const sentences = [
    `A saddle error beyond ${windowCents.toFixed(1)} cents (${windowMm.toFixed(2)} mm at ${scaleMm} mm scale) is no chance of reading${handsCounted ? ', whoever reads' : ', the same hand reading'}: the window that makes sense. One of ${seenCents.toFixed(1)} cents (${seenMm.toFixed(2)} mm) is seen four times in five.`,
  ];
  if (gauge.study === null) return [...sentences, oneLine(`No gauge study: ${gauge.reason}.`)];
  const { components, distinctCategories, resolution, notes, readings, parts, operators } = gauge.study;
  const sd = (source: keyof typeof components): string => {
    const found = components[source];
    return found === null
      ? 'not known'
      : `${Math.sqrt(found.variance).toFixed(2)} cents (${Math.sqrt(found.low).toFixed(2)} to ${Math.sqrt(found.high).toFixed(2)})`;
  };
  return [
    ...sentences,
    `Gauge study at fret ${gauge.fret}: ${readings} readings of ${parts} strings by ${operators} ${operators === 1 ? 'technician' : 'technicians'}. Repeatability ${sd('repeatability')}; reproducibility ${sd('reproducibility')}; both ${sd('gauge')} (standard deviations, 95 %).`,
    ...(distinctCategories === null
      ? []
      : [
          `The readings tell ${Number.isFinite(distinctCategories) ? Math.floor(distinctCategories) : 'any number of'} groups of strings apart.`,
        ]),
    ...(resolution.step > 0 ? [`Readings were written in steps of ${resolution.step} cents.`] : []),
    ...notes,
  ];
}

/** Title of the sample sizes. */
export function wantedTitle(wanted: Wanted): string {
  return 'halfWidth' in wanted
    ? `How many more instruments for rises known to ±${wanted.halfWidth} cents`
    : `How many more instruments for a regret of ${wanted.regret} cents at most`;
}

/** A sentence a model that needs more, and one for those that do not. */
export function sizeSentences(sizes: readonly SampleSize[]): string[] {
  const enough = sizes.filter(({ more }) => more[0]!.instruments === 0);
  const needy = sizes.filter(({ more }) => more[0]!.instruments > 0);
  return [
    ...needy.map(({ model, string, instruments, halfWidth, regret, more }) => {
      const [first, ...rest] = more;
      const others = rest.map((one) => `${one.instruments} where each is read ${one.repeats} times`).join(', ');
      return `${model}: ${first!.instruments} more${others === '' ? '' : ` (${others})`}; string ${string} has ±${halfWidth.toFixed(1)} cents and a regret of ${regret.toFixed(2)} from ${instruments} now.`;
    }),
    ...(enough.length > 0
      ? [`${needy.length === 0 ? 'None: ' : 'No more: '}${enough.map(({ model }) => model).join(', ')}.`]
      : []),
  ];
}
