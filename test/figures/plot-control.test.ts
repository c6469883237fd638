import { describe, expect, test } from 'vitest';
import { leftInstruments } from '../../src/control/left-instruments.ts';
import { shopControl, type ShopControl } from '../../src/control/shop-control.ts';
import { mimeSymbol } from '../../src/figures/figure.ts';
import { plotControl } from '../../src/figures/plot-control.ts';
import { normalRandom } from '../../src/statistics/random.ts';
import { dayAfter, inventedEntry, inventedStandard, leftReadings } from '../control/invented-bench.ts';
import { all, parsed, texts } from './drawing.ts';

const hostile = '<img src=x onerror=alert(1)>';

/** A bench of two technicians and two models; the first technician shifts by 2 cents halfway. */
function bench({ models = ['Fern', 'Moss'], count = 80, shift = 2 } = {}): ShopControl {
  const standard = inventedStandard(models.map((model) => inventedEntry({ model, string: 1 })));
  const normal = normalRandom(3);
  const plans = Array.from({ length: count }, (_, at) => ({
    instrument: `J${at}`,
    model: models[Math.floor(at / 2) % 2]!,
    string: 1,
    rise: 3,
    error: 0.4 * normal() + (at % 2 === 0 && at >= count / 2 ? shift : 0),
    technician: ['ann', 'ben'][at % 2]!,
    at: dayAfter(at),
  }));
  return shopControl(leftInstruments(leftReadings(standard, plans), standard), standard);
}

describe('plotControl', () => {
  const control = bench();
  const figure = plotControl(control, 'technician');

  test('draws every instrument, dated, and says what departs', () => {
    const marks = all(figure, '[aria-label=dot] circle, [aria-label=dot] path');
    expect(marks).toHaveLength(80);
    expect(figure.data).toHaveLength(80);
    expect(figure.data[0]).toMatchObject({ chart: 'ann', date: dayAfter(0), instrument: 'J0', technician: 'ann' });
    expect(figure.title).toMatch(/^Technicians against the standard: ann \+[12]\.\d cents since 2026-02-\d\d$/);
    expect(figure.description).toContain('ann leaves saddles');
    expect(texts(figure)).toContain('ben: 40 instruments');
  });

  // A time axis: the upright line of the departure stands at its instrument's dot.
  test('sets the upright line at the date of the first instrument of a departure', () => {
    const signal = control.signals.find(({ name }) => name === 'ann')!;
    expect(texts(figure).some((text) => text.startsWith(new Date(signal.fromAt).toISOString().slice(0, 10)))).toBe(
      true,
    );
    const rule = all(figure, '[aria-label=rule] line').find(
      (line) => line.getAttribute('y1') !== line.getAttribute('y2'),
    )!;
    const x = Number(rule.getAttribute('x1'));
    const dots = all(figure, '[aria-label=dot] circle').map((dot) => Number(dot.getAttribute('cx')));
    const paths = all(figure, '[aria-label=dot] path').map((path) =>
      Number(/translate\(([-\d.]+)/.exec(path.getAttribute('transform')!)![1]),
    );
    expect(Math.min(...[...dots, ...paths].map((dot) => Math.abs(dot - x)))).toBeLessThan(0.02);
  });

  test('keeps to the conventions of figures', () => {
    const svg = parsed(figure);
    expect(svg.querySelector('title')!.textContent).toBe(figure.title);
    expect(svg.querySelector('desc')!.textContent).toBe(figure.description);
    expect(all(figure, '[id], style, script, image, foreignObject')).toHaveLength(0);
    expect(svg.getAttribute('width')).toBe('640');
    expect(figure[mimeSymbol]()['text/plain']).toBe(`${figure.title}. ${figure.description}`);
    const sizes = [...figure.svg.matchAll(/font-size="([\d.]+)"/g)].map(([, size]) => Number(size));
    expect(Math.min(...sizes)).toBeGreaterThanOrEqual(10);
  });

  test('keeps a model name that looks like markup as text', () => {
    const drawn = plotControl(bench({ models: [hostile, 'Moss'] }), 'model');
    expect(all(drawn, 'img, [onerror]')).toHaveLength(0);
    expect(drawn.description).toContain(hostile);
  });

  test('says that there are too few to judge, and refuses none', () => {
    expect(plotControl(bench({ count: 8 }), 'technician').title).toBe(
      'Technicians against the standard: too few instruments to judge',
    );
    expect(() => plotControl(bench({ count: 0 }), 'shop')).toThrow(
      'Cannot plot no chart by shop; expected instruments left after a saddle move, with dates',
    );
  });
});
