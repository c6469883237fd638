import { axisX, axisY, dot, link, ruleX, ruleY, text } from '@observablehq/plot';
import { groups } from 'd3-array';
import { evenShare } from '../acoustics/rise.ts';
import type { HouseStandard, StandardEntry } from '../policy/standard.ts';
import { negligibleCents } from '../policy/share.ts';
import { type Verdict, weightsText } from '../policy/verdict.ts';
import { shownFigure, type ShownFigure } from './figure.ts';
import { inks } from './inks.ts';
import { charactersIn, counted, shorten } from './label.ts';
import { drawSheet, type Panel, panelWidth } from './panels.ts';

/** How firm a share is, and the mark that says so. */
const firmness = {
  decided: { symbol: 'circle', words: 'Solid dot: decided.' },
  either: { symbol: 'square', words: 'Open square: any split does about as well.' },
  open: { symbol: 'triangle', words: 'Open triangle: measure more first.' },
} as const;
type Firmness = keyof typeof firmness;

const firmnessOf = (verdict: Verdict): Firmness =>
  verdict === 'measure more first' ? 'open' : verdict === 'either' ? 'either' : 'decided';

/** Share of each string by model, from "12th exact" (0) through the even split to "17th exact" (1), with its interval. */
export function plotShare(standard: HouseStandard): ShownFigure {
  const { entries } = standard;
  if (entries.length === 0) throw new RangeError('Cannot plot the shares of a standard without entries');
  const models = groups(entries, ({ model }) => model);
  const near12 = entries.filter(({ share }) => share < evenShare / 2).length;
  const near17 = entries.filter(({ share }) => share > (1 + evenShare) / 2).length;
  const title = `Where the standard splits${models.length === 1 ? ` ${shorten(models[0]![0], 30)}` : ''}: ${near12} of ${counted(entries.length, 'string')} near 12th exact, ${entries.length - near12 - near17} near the even split, ${near17} near 17th exact`;
  const description = [
    `Share of each string of ${counted(models.length, 'model')}: 0 makes the 12th fret exact, 1 the 17th, ${evenShare.toFixed(3)} leaves equal and opposite errors. Interval of 95 % in brackets.`,
    ...models.map(
      ([model, own]) =>
        `${model}: ${own.map((entry) => `string ${entry.string} ${entry.share.toFixed(2)} (${entry.shareLow.toFixed(2)} to ${entry.shareHigh.toFixed(2)}), ${entry.verdict}, as good from ${entry.fineLow.toFixed(2)} to ${entry.fineHigh.toFixed(2)}`).join('; ')}.`,
    ),
  ].join(' ');
  const seen = new Set(entries.map(({ verdict }) => firmnessOf(verdict)));
  const words = (Object.keys(firmness) as Firmness[]).filter((one) => seen.has(one)).map((one) => firmness[one].words);
  const isJoined = entries.some(({ saddle }) => saddle.length > 1);
  const columns = Math.min(2, models.length);
  const svg = drawSheet({
    title,
    description,
    caption: `At the right the weights of 12th/17th. Thick line: 95 % interval; thin: shares that cost within ${negligibleCents} cents of the least. ${words.join(' ')}${isJoined ? ' Strings joined by a line share a saddle.' : ''}`,
    yLabel: 'string',
    xLabel: 'share: how far the saddle stands from "12th exact" toward "17th exact" →',
    columns,
    panels: models.map(([model, own]) => modelPanel(model, own, panelWidth(columns))),
  });
  const data = entries.map(({ model, string, saddle, share, shareLow, shareHigh, fineLow, fineHigh, verdict }) => ({
    model,
    string,
    saddle: saddle.join('|'),
    share,
    shareLow,
    shareHigh,
    fineLow,
    fineHigh,
    verdict,
  }));
  return shownFigure({ title, description, svg, data });
}

function modelPanel(model: string, entries: readonly StandardEntry[], width: number): Panel {
  const ticks = new Map([
    [0, '12th\nexact'],
    [evenShare, 'even\nsplit'],
    [1, '17th\nexact'],
  ]);
  const joined = entries.flatMap((entry) => {
    const next = entries.find(({ string, saddle }) => string > entry.string && saddle.includes(entry.string));
    return next ? [{ from: entry, to: next }] : [];
  });
  return {
    height: 62 + 20 * entries.length,
    options: {
      marginLeft: 36,
      marginRight: 62,
      marginTop: 22,
      marginBottom: 40,
      x: { domain: [0, 1] },
      y: { type: 'point', domain: entries.map(({ string }) => string), padding: 0.6 },
      marks: [
        ruleX([0, 1], { stroke: 'currentColor', strokeOpacity: 0.4 }),
        ruleX([evenShare], { stroke: 'currentColor', strokeOpacity: 0.6, strokeDasharray: '3,3' }),
        axisX([...ticks.keys()], {
          fontSize: 11,
          label: null,
          tickSize: 3,
          tickFormat: (share: number) => ticks.get(share)!,
        }),
        axisY({ fontSize: 12, label: null, tickSize: 0, tickPadding: 12 }),
        link(joined, {
          x1: ({ from }: { from: StandardEntry }) => from.share,
          y1: ({ from }: { from: StandardEntry }) => from.string,
          x2: ({ to }: { to: StandardEntry }) => to.share,
          y2: ({ to }: { to: StandardEntry }) => to.string,
          stroke: 'currentColor',
          strokeOpacity: 0.7,
        }),
        ruleY(entries, { x1: 'fineLow', x2: 'fineHigh', y: 'string', stroke: inks.blue, strokeWidth: 1.5 }),
        ruleY(entries, { x1: 'shareLow', x2: 'shareHigh', y: 'string', stroke: inks.blue, strokeWidth: 4 }),
        ...(Object.keys(firmness) as Firmness[]).map((one) =>
          dot(
            entries.filter(({ verdict }) => firmnessOf(verdict) === one),
            {
              x: 'share',
              y: 'string',
              r: 4.5,
              symbol: firmness[one].symbol,
              stroke: inks.blue,
              strokeWidth: 2,
              fill: one === 'decided' ? inks.blue : 'none',
            },
          ),
        ),
        text(entries, {
          y: 'string',
          frameAnchor: 'right',
          textAnchor: 'end',
          dx: 60,
          fontSize: 12,
          text: ({ share }: StandardEntry) => weightsText(share),
        }),
        text([shorten(model, charactersIn(width - 30, 12))], {
          frameAnchor: 'top-left',
          dx: -30,
          dy: -18,
          fontSize: 12,
          fontWeight: 'bold',
        }),
      ],
    },
  };
}
