import { signed } from '../acoustics/signed.ts';
import { axisX, dot, gridX, link, ruleX, text } from '@observablehq/plot';
import type { Adoption } from '../control/adoption.ts';
import { measureWords } from '../control/adoption-words.ts';
import { dayText } from '../control/instant.ts';
import type { Measure } from '../control/left-jobs.ts';
import { shownFigure, type ShownFigure } from './figure.ts';
import { inks } from './inks.ts';
import { counted, shorten } from './label.ts';
import { drawSheet, type Panel } from './panels.ts';

/** What is drawn, a panel each. */
const drawn = ['at12', 'at17', 'moves'] as const satisfies readonly Measure[];

/** One change with its interval; `place` counts rows from the top. */
interface Row {
  readonly measure: Measure;
  readonly name: string;
  readonly place: number;
  readonly change: number;
  readonly low: number;
  readonly high: number;
}

/**
 * What changed with a standard: the error left at the 12th and the 17th and the moves a job, after less before, with 95 % intervals,
 * of all and of each technician and model with jobs on both sides.
 *
 * @throws {RangeError} when no interval can be given of any of them
 */
export function plotAdoption(adoption: Adoption): ShownFigure {
  const { before, after, audibleCents, adoptedAt } = adoption;
  const groups = [{ name: 'all', differences: adoption.differences }, ...adoption.groups];
  const rows = drawn.flatMap((measure) =>
    groups.flatMap(({ name, differences }, place): Row[] => {
      const found = differences[measure];
      return found ? [{ measure, name, place, change: found.estimate, low: found.low, high: found.high }] : [];
    }),
  );
  if (rows.length === 0)
    throw new RangeError(
      'Cannot plot a change without an interval; expected two jobs or more of a model on either side',
    );
  const title = titleOf(rows, audibleCents);
  const description = [
    `Change from ${counted(before.length, 'job')} before ${dayText(adoptedAt)} to ${after.length} after, with 95 % intervals.`,
    ...rows.map(
      ({ measure, name, change, low, high }) =>
        `${name}, ${measureWords(measure, audibleCents).name}: ${hundredths(change)} (${hundredths(low)} to ${hundredths(high)}).`,
    ),
  ].join(' ');
  const svg = drawSheet({
    title,
    description,
    caption:
      'Dot: after less before, models as blocks; bar: 95 % interval. Blue: less than before; orange: more; pale: cannot be told.',
    xLabel: 'change in cents, or in moves',
    columns: 1,
    panels: drawn.flatMap((measure) => {
      const own = rows.filter((row) => row.measure === measure);
      return own.length === 0
        ? []
        : [
            panelOf(
              own,
              groups.map(({ name }) => name),
              measureWords(measure, audibleCents).name,
            ),
          ];
    }),
  });
  return shownFigure({
    title,
    description,
    svg,
    data: rows.map(({ measure, name, change, low, high }) => ({ measure, name, change, low, high })),
  });
}

const hundredths = (value: number): string => signed(value, 2);

function titleOf(rows: readonly Row[], audibleCents: number): string {
  const all = rows.filter(({ name, place }) => name === 'all' && place === 0);
  const told = all.filter(({ low, high }) => low > 0 || high < 0);
  if (told.length === 0) return 'Before and after the standard: over all jobs, no difference can be told';
  const words = told.map(({ measure, change }) => `${measureWords(measure, audibleCents).name} ${hundredths(change)}`);
  return `With the standard: ${words.join(', ')}`;
}

const rowHeight = 19;

function panelOf(rows: readonly Row[], names: readonly string[], title: string): Panel {
  const reach = 1.08 * Math.max(...rows.flatMap(({ low, high }) => [-low, high]));
  const inkOf = ({ low, high }: Row): string => (high < 0 ? inks.blue : low > 0 ? inks.vermilion : 'currentColor');
  const middle = ({ place }: Row): number => place + 0.5;
  const labels = names.map((name, place) => ({ name: shorten(name, 17), place }));
  return {
    height: 52 + rowHeight * names.length,
    options: {
      marginLeft: 132,
      marginRight: 56,
      marginTop: 24,
      marginBottom: 28,
      x: { domain: [-reach, reach] },
      y: { type: 'linear', domain: [names.length, 0], axis: null },
      marks: [
        gridX({ ticks: 6, stroke: 'currentColor', strokeOpacity: 0.12 }),
        axisX({ fontSize: 11, label: null, ticks: 6, tickSize: 3 }),
        ruleX([0], { stroke: 'currentColor', strokeOpacity: 0.7 }),
        link(rows, {
          ...{ x1: 'low', x2: 'high', y1: middle, y2: middle },
          ...{ stroke: inkOf, strokeOpacity: (row: Row) => (row.low > 0 || row.high < 0 ? 1 : 0.5), strokeWidth: 3 },
        }),
        dot(rows, { x: 'change', y: middle, r: 4, fill: inkOf }),
        text([title], { frameAnchor: 'top-left', dx: -130, dy: -20, fontSize: 12, fontWeight: 'bold' }),
        text(labels, {
          ...{ y: ({ place }: { place: number }) => place + 0.5, frameAnchor: 'left', textAnchor: 'end', dx: -10 },
          ...{ fontSize: 12, text: 'name' },
        }),
        text(rows, {
          ...{ y: middle, frameAnchor: 'right', textAnchor: 'end', dx: 50, fontSize: 12 },
          text: ({ change }: Row) => hundredths(change),
        }),
      ],
    },
  };
}
