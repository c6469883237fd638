import type { Columns, MixedDescription } from '../../src/statistics/mixed/description.ts';
import { normalRandom, uniformRandom } from '../../src/statistics/random.ts';

/** A fit that this engine and the reference software are timed on. */
export interface Case {
  readonly name: string;
  readonly description: MixedDescription;
  /** The same model for lme4 and, where it has one, for nlme (fixed formula, random formula). */
  readonly lme4: string;
  readonly nlme?: readonly [string, string];
  /** Columns of about this many readings, the same for every run. */
  readonly data: (readings: number) => Columns;
}

/** Three nested groupings: groups of 4 readings, 6 in a unit, units shared out among 24 batches; sizes vary on request. */
function nested(readings: number, sizes: 'equal' | 'varied'): Columns {
  const normal = normalRandom(1);
  const uniform = uniformRandom(2);
  const units = Math.max(8, Math.round(readings / 24));
  const batches = Math.max(2, Math.min(24, Math.floor(units / 4)));
  const shifts = Array.from({ length: batches }, () => 2 * normal());
  const columns = { a: [] as number[], b: [] as number[], c: [] as number[], x: [] as number[], y: [] as number[] };
  for (let unit = 0; unit < units; unit++) {
    const ofUnit = shifts[unit % batches]! + 1.5 * normal();
    for (let group = 0; group < 6; group++) {
      const mean = ofUnit + normal();
      const size = sizes === 'equal' ? 4 : 1 + Math.floor(7 * uniform());
      for (let k = 0; k < size; k++) {
        const x = k / 3;
        columns.a.push(unit % batches);
        columns.b.push(unit);
        columns.c.push(unit * 6 + group);
        columns.x.push(x);
        columns.y.push(3 + 1.2 * x + mean + 0.8 * normal());
      }
    }
  }
  return columns;
}

/** Correlated intercepts and slopes of units and of groups within units. */
function vector(readings: number): Columns {
  const normal = normalRandom(3);
  const units = Math.max(4, Math.round(readings / 48));
  const columns = { b: [] as number[], c: [] as number[], x: [] as number[], y: [] as number[] };
  for (let unit = 0; unit < units; unit++) {
    const first = 1.5 * normal();
    const second = 0.5 * first + normal();
    for (let group = 0; group < 6; group++) {
      const own = normal();
      const slope = 0.7 * normal() - 0.2 * own;
      for (let k = 0; k < 8; k++) {
        const x = k / 7;
        columns.b.push(unit);
        columns.c.push(unit * 6 + group);
        columns.x.push(x);
        columns.y.push(3 + 1.2 * x + first + own + (second + slope) * x + 0.8 * normal());
      }
    }
  }
  return columns;
}

/** One contrast of two readings in each of 6 cells a unit; 24 kinds of unit make 144 cells. */
function contrasts(readings: number): Columns {
  const normal = normalRandom(4);
  const units = Math.max(48, Math.round(readings / 12));
  const columns = { cell: [] as number[], b: [] as number[], y: [] as number[] };
  for (let unit = 0; unit < units; unit++) {
    const shift = normal();
    for (let k = 0; k < 6; k++) {
      columns.cell.push((unit % 24) * 6 + k);
      columns.b.push(unit);
      columns.y.push((unit % 24) / 10 + k / 3 + shift + normal());
    }
  }
  return columns;
}

const intercepts = [['a'], ['b'], ['c']].map((group) => ({ group, effects: ['1'] }));

export const cases: Record<string, Case> = {
  equal: {
    name: 'nested, three levels, groups of 4',
    description: { response: 'y', fixed: [{ numeric: 'x' }], random: intercepts },
    lme4: 'y ~ x + (1 | a) + (1 | b) + (1 | c)',
    nlme: ['y ~ x', '~ 1 | a / b / c'],
    data: (readings) => nested(readings, 'equal'),
  },
  varied: {
    name: 'nested, three levels, groups of 1 to 7',
    description: { response: 'y', fixed: [{ numeric: 'x' }], random: intercepts },
    lme4: 'y ~ x + (1 | a) + (1 | b) + (1 | c)',
    nlme: ['y ~ x', '~ 1 | a / b / c'],
    data: (readings) => nested(readings, 'varied'),
  },
  vector: {
    name: 'correlated intercept and slope at two levels',
    description: {
      response: 'y',
      fixed: [{ numeric: 'x' }],
      random: [
        { group: ['b'], effects: ['1', 'x'] },
        { group: ['c'], effects: ['1', 'x'] },
      ],
    },
    lme4: 'y ~ x + (x | b) + (x | c)',
    nlme: ['y ~ x', '~ x | b / c'],
    data: vector,
  },
  contrasts: {
    name: 'one contrast of two readings in 144 cells',
    description: {
      response: 'y',
      intercept: false,
      fixed: [{ categorical: 'cell', contrasts: 'indicator' }],
      random: [{ group: ['b'], effects: ['1'] }],
    },
    // Not nlme, which forms 144 dense columns a unit: at a million readings it takes 5 GB and several minutes.
    lme4: 'y ~ 0 + factor(cell) + (1 | b)',
    data: contrasts,
  },
};
