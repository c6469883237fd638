import { axisX, axisY, dot, line, type Markish, ruleX, ruleY, text } from '@observablehq/plot';
import type { CostCurve, CostPoint } from '../policy/cost-curve.ts';
import type { Loss } from '../policy/loss.ts';
import type { RuleOfThumb } from '../policy/rules-of-thumb.ts';
import { alikeCents, negligibleCents } from '../policy/share.ts';
import { shownFigure, type ShownFigure } from './figure.ts';
import { inks } from './inks.ts';
import { charactersIn, counted, shorten } from './label.ts';
import { drawSheet, type Panel, panelWidth } from './panels.ts';

/** Mark and short label of a rule of thumb; one whose share hangs on the string wanders along the axis. */
interface RuleMark {
  readonly symbol: 'square' | 'triangle' | 'diamond' | 'times';
  readonly sign: string;
  readonly name: string;
  readonly wanders?: true;
}

const ruleMarks: Record<RuleOfThumb, RuleMark> = {
  '12th exact': { symbol: 'square', sign: '□', name: '12th exact' },
  '17th exact': { symbol: 'triangle', sign: '△', name: '17th exact' },
  'even split': { symbol: 'diamond', sign: '◇', name: 'even' },
  'low strings 12th, high strings split': { symbol: 'times', sign: '×', name: 'low 12th, high split', wanders: true },
};

/**
 * Expected cost in cents against the share, a panel per curve, with the standard's choice and the rules of thumb marked.
 *
 * @param curves at least one, such as `costCurve` gives
 */
export function plotCost(curves: readonly CostCurve[]): ShownFigure {
  if (curves.length === 0) throw new RangeError('Cannot plot no cost curve; expected at least one');
  const models = new Set(curves.map(({ model }) => model));
  const of = models.size === 1 ? ` of ${shorten(curves[0]!.model, 24)}` : '';
  const saved = curves.map(({ rules, chosen }) => ({
    exact: cost(rules, '12th exact') - chosen.cost,
    even: cost(rules, 'even split') - chosen.cost,
  }));
  const range = (values: readonly number[]): string => {
    const ends = [Math.min(...values), Math.max(...values)].map((one) => one.toFixed(2).replace('-', '−'));
    return [...new Set(ends)].join(' to ');
  };
  const title = `Cost of a share${of}: 12th exact costs ${range(saved.map(({ exact }) => exact))} cents more than the standard, the even split ${range(saved.map(({ even }) => even))}`;
  const description = [
    `Expected cost in cents against the share (0 makes the 12th exact, 1 the 17th) for ${counted(curves.length, 'string')}.`,
    ...curves.map(
      ({ model, string, chosen, rules, saddle, fineLow, fineHigh }) =>
        `${model} string ${string}: chosen ${chosen.share.toFixed(2)} costs ${chosen.cost.toFixed(2)}, as good from ${fineLow.toFixed(2)} to ${fineHigh.toFixed(2)}${saddle.length > 1 ? ` (one share for strings ${saddle.join(', ')} on one saddle)` : ''}; ${rules.map((rule) => `${rule.rule} ${rule.cost.toFixed(2)}`).join(', ')}.`,
    ),
  ].join(' ');
  const columns = Math.min(2, curves.length);
  // One ceiling for all panels, so that a string that costs little looks it.
  const ceiling = Math.max(...curves.flatMap(({ points }) => points.map((point) => point.cost)));
  const svg = drawSheet({
    title,
    description,
    caption: `Expected cost: ${[...new Set(curves.map(({ loss }) => lossWords(loss)))].join('; ')}. Numbers are the costs of the rules of thumb and of the share chosen. Bar on the axis: shares within ${negligibleCents} cents of the least${curves.some(({ loss }) => loss.kind === 'audible') ? `; of those within ${alikeCents} the one with the smallest errors is chosen` : ''}.`,
    yLabel: '↑ expected cost in cents',
    xLabel: 'share: how far the saddle stands from "12th exact" toward "17th exact" →',
    columns,
    panels: curves.map((curve) =>
      curvePanel(curve, { ceiling, width: panelWidth(columns), name: models.size > 1 ? curve.model : undefined }),
    ),
  });
  const data = curves.flatMap(({ model, string, points, chosen, rules }) => [
    ...points.map((point) => ({ kind: 'curve', model, string, ...point })),
    { kind: 'chosen', model, string, ...chosen },
    ...rules.map(({ rule, ...point }) => ({ kind: rule, model, string, ...point })),
  ]);
  return shownFigure({ title, description, svg, data });
}

const cost = (rules: CostCurve['rules'], rule: RuleOfThumb): number => rules.find((one) => one.rule === rule)!.cost;

function lossWords(loss: Loss): string {
  switch (loss.kind) {
    case 'squared':
      return 'root mean square error over the frets as they are played';
    case 'audible':
      return `root mean square of what exceeds ±${loss.thresholdCents} cents over the frets as they are played`;
    case 'minimax':
      return 'largest expected error at any fret in use';
  }
}

interface PanelPlace {
  readonly ceiling: number;
  readonly width: number;
  readonly name: string | undefined;
}

/** Text over the frame at a share, `dy` pixels from its upper edge; it leans inward near the ends. */
function labelAt(share: number, words: string, dy: number, fontWeight: 'normal' | 'bold' = 'normal'): Markish {
  const lean = share < 0.3 ? 'start' : share > 0.72 ? 'end' : 'middle';
  return text([words], {
    x: share,
    frameAnchor: 'top',
    lineAnchor: 'top',
    textAnchor: lean,
    dx: { start: -4, middle: 0, end: 4 }[lean],
    dy,
    fontSize: 11,
    fontWeight,
  });
}

/** Labels never meet: the rules with a place of their own stand apart in one line, what wanders has a line of its own. */
function labels(chosen: CostPoint, rules: CostCurve['rules']): Markish[] {
  return [
    ...rules.map(({ rule, share, cost }) => {
      const { sign, name, wanders } = ruleMarks[rule];
      return labelAt(share, `${sign} ${name}${wanders ? ' ' : '\n'}${cost.toFixed(2)}`, wanders ? -38 : -70);
    }),
    labelAt(chosen.share, `● chosen ${chosen.share.toFixed(2)}: ${chosen.cost.toFixed(2)}`, -20, 'bold'),
  ];
}

function curvePanel(
  { string, points, chosen, rules, fineLow, fineHigh }: CostCurve,
  { ceiling, width, name }: PanelPlace,
): Panel {
  const heading =
    name === undefined
      ? `string ${string}`
      : `${shorten(name, charactersIn(width - 40, 12) - `, string ${string}`.length)}, string ${string}`;
  return {
    height: 280,
    options: {
      marginLeft: 40,
      marginRight: 12,
      marginTop: 100,
      marginBottom: 24,
      x: { domain: [0, 1] },
      y: { domain: [0, ceiling > 0 ? ceiling * 1.06 : 1] },
      marks: [
        axisX([0, 0.2, 0.4, 0.6, 0.8, 1], { fontSize: 11, label: null, tickSize: 3 }),
        axisY({ fontSize: 11, label: null, ticks: 5, tickSize: 3 }),
        ruleY([0], { stroke: 'currentColor', strokeOpacity: 0.5 }),
        ruleY([{ fineLow, fineHigh }], {
          x1: 'fineLow',
          x2: 'fineHigh',
          y: 0,
          stroke: inks.blue,
          strokeWidth: 5,
          strokeOpacity: 0.7,
        }),
        ruleX(rules, { x: 'share', stroke: 'currentColor', strokeOpacity: 0.3, strokeDasharray: '2,3' }),
        ruleX([chosen], { x: 'share', stroke: inks.blue, strokeWidth: 1.5 }),
        line(points, { x: 'share', y: 'cost', stroke: 'currentColor', strokeWidth: 2 }),
        ...rules.map((rule) =>
          dot([rule], {
            x: 'share',
            y: 'cost',
            r: 5,
            symbol: ruleMarks[rule.rule].symbol,
            stroke: inks.vermilion,
            strokeWidth: 2,
          }),
        ),
        dot([chosen], { x: 'share', y: 'cost', r: 5, fill: inks.blue }),
        ...labels(chosen, rules),
        text([heading], { frameAnchor: 'top-left', dx: -4, dy: -94, fontSize: 12, fontWeight: 'bold' }),
      ],
    },
  };
}
