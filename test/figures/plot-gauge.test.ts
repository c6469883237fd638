import { expect, test } from 'vitest';
import { plotGauge } from '../../src/figures/plot-gauge.ts';
import { gaugeStudy } from '../../src/statistics/gauge-study.ts';
import { gaugeReadings, thermalImpedance } from '../statistics/gauge-data.ts';
import { all, texts } from './drawing.ts';

const figure = plotGauge(gaugeStudy(gaugeReadings(thermalImpedance)), 12);

// The thermal impedance study (Houf & Berman 1988, see gauge-data.ts): repeatability 0.511, gauge 1.804, parts 48.29 as variances.
test('plotGauge gives standard deviations of each source, and what they mean', () => {
  expect(figure.data.map(({ source, sd }) => [source, (sd as number).toFixed(2)])).toEqual([
    ['repeatability', '0.71'],
    ['operator', '0.75'],
    ['interaction', '0.85'],
    ['gauge', '1.34'],
    ['part', '6.95'],
  ]);
  expect(figure.title).toBe('At fret 12 the same hand reads again within 1.4 cents, another hand within 2.6 (95 %)');
  expect(texts(figure)).toContain('between hands');
  expect(all(figure, '[aria-label=dot] circle')).toHaveLength(5);
  expect(all(figure, '[id], style, script')).toHaveLength(0);
});

test('plotGauge leaves out what one hand cannot tell', () => {
  const alone = plotGauge(gaugeStudy(gaugeReadings([[[1, 1.2]], [[2, 2.1]], [[3, 3.3]]])), 12);
  expect(alone.data.map(({ source }) => source)).toEqual(['repeatability', 'part']);
  expect(alone.title).not.toContain('another hand');
});
