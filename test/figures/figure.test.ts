import { parse } from 'csv-parse/sync';
import { expect, test } from 'vitest';
import { equalPlacement } from '../../src/acoustics/placement.ts';
import { figureCsv } from '../../src/figures/figure-csv.ts';
import { mimeSymbol, type ShownFigure } from '../../src/figures/figure.ts';
import { plotAsLeft } from '../../src/figures/plot-as-left.ts';
import { plotBacktest } from '../../src/figures/plot-backtest.ts';
import { plotCost } from '../../src/figures/plot-cost.ts';
import { plotFretCents } from '../../src/figures/plot-fret-cents.ts';
import { plotFretErrors } from '../../src/figures/plot-fret-errors.ts';
import { plotReadings } from '../../src/figures/plot-readings.ts';
import { plotRise } from '../../src/figures/plot-rise.ts';
import { plotShare } from '../../src/figures/plot-share.ts';
import { fitPlacement } from '../../src/metrology/fit-placement.ts';
import { asLeft } from '../../src/policy/as-left.ts';
import { backtest } from '../../src/policy/backtest.ts';
import { costCurve } from '../../src/policy/cost-curve.ts';
import { all, parsed, texts } from './drawing.ts';
import { inventedStandard, inventedTrend } from './invented-trend.ts';

/** A neck of 600 mm with one fret off its place. */
const caliper = equalPlacement(600, 8)
  .nutToFretMm.map((mm, fret) => ({ fret, nutToFretMm: fret === 5 ? mm + 0.5 : mm + 0.01 * (fret % 3) }))
  .slice(1);

function everyFigure(models: readonly string[]): [string, ShownFigure][] {
  const trend = inventedTrend({ models });
  const { standard, from } = inventedStandard(trend);
  return [
    ['plotReadings', plotReadings(trend, models[0]!)],
    ['plotRise', plotRise(trend)],
    ['plotShare', plotShare(standard)],
    ['plotCost', plotCost(standard.entries.map((entry) => costCurve(entry, from)))],
    ['plotAsLeft', plotAsLeft(asLeft(trend.sums, standard), 3)],
    ['plotBacktest', plotBacktest(backtest(trend, from))],
    ['plotFretErrors', plotFretErrors(fitPlacement(caliper), models[0]!)],
    [
      'plotFretCents',
      plotFretCents([{ name: models[0]!, notes: [{ fret: 1, cents: 2 }] }], { of: models[0]!, audibleCents: 3 }),
    ],
  ];
}
const figures = everyFigure(['Fern', 'Moss', 'Reed']);

test.each(figures)('%s is an image with its title and description inside', (_, figure) => {
  const svg = parsed(figure);
  expect(svg.getAttribute('role')).toBe('img');
  expect(svg.querySelector('title')!.textContent).toBe(figure.title);
  expect(svg.querySelector('desc')!.textContent).toBe(figure.description);
  expect(figure.svg).toMatch(/^<svg [^>]*xmlns="http:\/\/www\.w3\.org\/2000\/svg"/);
});

test.each(figures)('%s shows itself in a notebook as SVG and as words', (_, figure) => {
  const bundle = figure[mimeSymbol]();
  expect(Symbol.keyFor(mimeSymbol)).toBe('upneck.mime');
  expect(Object.keys(bundle)).toEqual(['image/svg+xml', 'text/plain']);
  expect(bundle['image/svg+xml']).toBe(figure.svg);
  expect(bundle['text/plain']).toBe(`${figure.title}. ${figure.description}`);
});

// Ids and style sheets of one figure would reach the others on the page.
test.each(figures)('%s keeps to itself: no ids, no style sheet, no background, the ink of the page', (_, figure) => {
  expect(all(figure, '[id], style, script, image, foreignObject')).toHaveLength(0);
  expect(parsed(figure).getAttribute('fill')).toBe('currentColor');
  const inks = [...figure.svg.matchAll(/(?:fill|stroke)="([^"]*)"/g)].map(([, ink]) => ink!);
  expect(inks).toContain('currentColor');
  expect(inks.filter((ink) => /^(white|black|#000|#fff)/i.test(ink))).toEqual([]);
});

test.each(figures)('%s writes nothing smaller than 10 px at 640 px', (_, figure) => {
  expect(parsed(figure).getAttribute('width')).toBe('640');
  const sizes = [...figure.svg.matchAll(/font-size="([\d.]+)"/g)].map(([, size]) => Number(size));
  expect(Math.min(...sizes)).toBeGreaterThanOrEqual(10);
});

test.each(figures)('%s draws the same twice', (name, figure) => {
  const again = everyFigure(['Fern', 'Moss', 'Reed']).find(([other]) => other === name)![1];
  expect(again.svg).toBe(figure.svg);
});

const hostile = '<img src=x onerror=alert(1)>';
test.each(everyFigure([hostile, 'Moss']))('%s keeps a model name that looks like markup as text', (_, figure) => {
  expect(all(figure, 'img, script, [onerror]')).toHaveLength(0);
  expect(figure.svg).not.toContain('<img');
  if (figure.description.includes('onerror'))
    expect(parsed(figure).querySelector('desc')!.textContent).toContain(hostile);
});

test.each(everyFigure(['Fern\u0000\u001b\ud800', 'Moss']))(
  '%s leaves out what no XML document may hold',
  (_, figure) => {
    // XML 1.0 (fifth edition), production 2, Char.
    // eslint-disable-next-line no-control-regex
    expect(figure.svg).not.toMatch(/[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]|\p{Surrogate}/u);
  },
);

test('plotRise and plotShare grow with the number of models and shorten long names', () => {
  const long = 'A name far longer than any panel of any figure of ours has room for, and longer';
  const many = [long, ...Array.from({ length: 23 }, (_, at) => `Model ${at}`)];
  const trend = inventedTrend({ models: many });
  for (const draw of [plotRise, (of: typeof trend): ShownFigure => plotShare(inventedStandard(of).standard)]) {
    const figure = draw(trend);
    const [few, all24] = [draw({ ...trend, models: trend.models.slice(0, 4) }), figure].map((one) =>
      Number(parsed(one).getAttribute('height')),
    );
    expect(all24).toBeGreaterThan(4 * few!);
    expect(texts(figure).filter((text) => text.startsWith('Model '))).toHaveLength(23);
    expect(texts(figure).some((text) => text.includes('A name far') && text.includes('…'))).toBe(true);
    expect(texts(figure).join('\n')).not.toContain(long);
    expect(figure.description).toContain(long);
  }
});

test('figureCsv writes every row drawn, with a header, and reads back', () => {
  const [, figure] = figures[0]!;
  const records = parse(figureCsv(figure), { columns: true }) as unknown as Record<string, string>[];
  expect(records).toHaveLength(figure.data.length);
  records.forEach((record, at) => {
    for (const [column, value] of Object.entries(figure.data[at]!)) expect(record[column]).toBe(String(value));
  });
});

test('figureCsv lets no name run as a formula, and leaves numbers as they are', () => {
  const names = ['=1+1', '+1+1', '-1+1', '@SUM(A1)', '\t=1', '\r=1'];
  const [header, ...lines] = figureCsv({
    title: '',
    description: '',
    svg: '',
    data: [...names.map((model) => ({ model })), { model: '-1.5', cents: -2.5 }],
  }).split('\r\n');
  expect(header).toBe('model,cents');
  for (const line of lines.slice(0, names.length)) expect(line).toMatch(/^"?'/);
  expect(lines[names.length]).toBe('-1.5,-2.5');
});
