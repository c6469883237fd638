import { describe, expect, test } from 'vitest';
import type { Adoption, Differences } from '../../src/control/adoption.ts';
import { plotAdoption } from '../../src/figures/plot-adoption.ts';
import type { Difference } from '../../src/statistics/two-sample.ts';
import { all, texts } from './drawing.ts';

const difference = (estimate: number, reach: number): Difference => ({
  ...{ estimate, low: estimate - reach, high: estimate + reach, standardError: reach / 2, df: 20, t: 0, p: 1 },
  ...{ meanBefore: 1, meanAfter: 1 + estimate, before: 12, after: 10, strata: 2 },
});
const none: Differences = { at12: null, at17: null, audible: null, neck: null, off: null, moves: null };
const hostile = '<img src=x onerror=alert(1)>';

function invented(differences: Differences, group: Differences): Adoption {
  return {
    adoptedAt: Date.parse('2026-07-01'),
    audibleCents: 3,
    before: [],
    after: [],
    standardLeaves: { at12: 1, at17: 1 },
    differences,
    paired: null,
    groups: [{ kind: 'technician', name: hostile, before: 5, after: 6, differences: group }],
    faults: { before: null, reason: 'invented' },
    notes: [],
  };
}

describe('plotAdoption', () => {
  const figure = plotAdoption(
    invented(
      { ...none, at12: difference(0.2, 0.5), moves: difference(-0.5, 0.2) },
      { ...none, at12: difference(1, 0.4) },
    ),
  );

  test('draws a change with its interval for all and for each group that has one', () => {
    expect(figure.data.map(({ measure, name, change }) => [measure, name, change])).toEqual([
      ['at12', 'all', 0.2],
      ['at12', hostile, 1],
      ['moves', 'all', -0.5],
    ]);
    expect(all(figure, '[aria-label=dot] circle')).toHaveLength(3);
    expect(texts(figure)).toEqual(expect.arrayContaining(['error left at the 12th', 'saddle moves a job', '−0.50']));
    expect(texts(figure)).not.toContain('error left at the 17th');
    expect(all(figure, '[id], style, script, img')).toHaveLength(0);
  });

  test('names in the title what can be told of all, and nothing else', () => {
    expect(figure.title).toBe('With the standard: saddle moves a job −0.50');
    const open = plotAdoption(invented({ ...none, at12: difference(0.2, 0.5) }, none));
    expect(open.title).toBe('Before and after the standard: over all jobs, no difference can be told');
  });

  test('refuses to draw where no interval can be given', () => {
    expect(() => plotAdoption(invented(none, none))).toThrow(
      'Cannot plot a change without an interval; expected two jobs or more of a model on either side',
    );
  });
});
