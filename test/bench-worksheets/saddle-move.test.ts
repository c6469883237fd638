import { expect, test } from 'vitest';
import { planMove, type SaddleFacts, type SaddleMove } from '../../src/bench/saddle-move.ts';
import { followSaddle } from '../../src/bench/saddle-story.ts';
import { makeWorksheets, type Worksheet } from '../../src/bench/worksheet.ts';
import { unknownGain } from '../../src/bench/response.ts';
import { leastCostShift, type KnownString, shiftCost } from '../../src/bench/shared-shift.ts';
import type { Loss } from '../../src/policy/loss.ts';
import { alikeCents } from '../../src/policy/share.ts';
import { type Usage, usageWeights } from '../../src/policy/usage.ts';
import { uniformRandom } from '../../src/statistics/random.ts';
import { type BenchReading, evenUsage, readingsOf, standardOf } from './bench-standard.ts';

const kappa = 2 ** (17 / 12) - 1;

/** Error of a fret by lengths alone, written down here anew (DESIGN section 3). */
function exactCents(fret: number, scaleMm: number, setbackMm: number): number {
  return 1200 * Math.log2((scaleMm + setbackMm) / (scaleMm * 2 ** (-fret / 12) + setbackMm)) - 100 * fret;
}

/** The setback from which the 12th has changed by `change`, by bisection. */
function bisected(change: number, scaleMm: number, fromMm: number): number {
  let [low, high] = [fromMm - 30, fromMm + 30];
  for (let step = 0; step < 200; step++) {
    const middle = (low + high) / 2;
    if (exactCents(12, scaleMm, middle) - exactCents(12, scaleMm, fromMm) > change) low = middle;
    else high = middle;
  }
  return low - fromMm;
}

function sheetOf(
  rows: readonly BenchReading[],
  model: Parameters<typeof standardOf>[0][number],
  loss?: Loss,
): Worksheet {
  const standard = standardOf([model], loss ? { options: { loss, usage: 'even', seed: 1 } } : {});
  return makeWorksheets(readingsOf(rows), { standard, models: [], usage: evenUsage })[0]!;
}

const larch = { model: 'Larch', rises: [3], share: 0.6 };
const moveOf = (sheet: Worksheet): SaddleMove => sheet.saddles[0]!.move!;

test('a lone string is moved by exactly what bisection on the exact geometry finds', () => {
  for (const scaleMm of [510, 648, 864])
    for (const [cents12, saddleMm] of [
      [9, 1.5],
      [3, -0.8],
      [-7, 2.2],
      [-18, 0],
    ] as const) {
      const rows = [
        { fret: 12, cents: cents12, saddleMm, scaleMm },
        { fret: 17, cents: 3 + kappa * cents12, saddleMm, scaleMm },
      ];
      const { saddles } = sheetOf(rows, { ...larch, travelMm: 60 });
      const [{ move, strings }] = saddles as [Worksheet['saddles'][number]];
      const target = (-0.6 * 3) / kappa;
      expect(strings[0]!.target).toBeCloseTo(target, 10);
      expect(move!.moveMm).toBeCloseTo(bisected(target - cents12, scaleMm, saddleMm), 7);
      expect(move!.action).toBe(target < cents12 ? 'back' : 'forward');
      expect(strings[0]!.predicted12).toBeCloseTo(target, 9);
      const after = exactCents(17, scaleMm, saddleMm + move!.moveMm) - exactCents(17, scaleMm, saddleMm);
      expect(strings[0]!.predicted17).toBeCloseTo(3 + kappa * cents12 + after, 7);
      expect(move!.turns).toBeCloseTo(move!.moveMm / 0.7, 12);
    }
});

test('a 12th inside its window is left, one outside is moved', () => {
  const target = (-0.6 * 3) / kappa;
  const window = 1.96 * 0.5;
  for (const [off, action] of [
    [window - 0.01, 'leave'],
    [window + 0.01, 'back'],
    [-window + 0.01, 'leave'],
    [-window - 0.01, 'forward'],
  ] as const) {
    const cents12 = target + off;
    const sheet = sheetOf(
      [
        { fret: 12, cents: cents12 },
        { fret: 17, cents: 3 + kappa * cents12 },
      ],
      larch,
    );
    expect(moveOf(sheet).action).toBe(action);
    if (action === 'leave') expect(moveOf(sheet)).toMatchObject({ moveMm: 0, turns: 0, changeCents: 0 });
  }
});

test('a move is kept to the travel, half of it either way of the nominal scale length', () => {
  const rows = (cents12: number, saddleMm?: number): BenchReading[] =>
    [12, 17].map((fret) => ({
      fret,
      cents: fret === 12 ? cents12 : 3 + kappa * cents12,
      ...(saddleMm === undefined ? {} : { saddleMm }),
    }));
  const model = { ...larch, travelMm: 6 };
  // About 2.67 cents a millimetre: 3 mm of room from the middle.
  expect(moveOf(sheetOf(rows(5), model))).toMatchObject({ reach: 'assumed', action: 'back' });
  expect(moveOf(sheetOf(rows(5, 0), model))).toMatchObject({ reach: 'within', action: 'back' });
  const cut = sheetOf(rows(5, 2), model);
  expect(moveOf(cut)).toMatchObject({ reach: 'beyond', moveMm: 1, action: 'back' });
  expect(cut.saddles[0]!.strings[0]!.predicted12).toBeCloseTo(5 + exactCents(12, 648, 3) - exactCents(12, 648, 2), 9);
  expect(cut.notes).toContain(
    'The travel ends before the target on string 1: go to the end, do not force it, and see what the maker advises.',
  );
  expect(moveOf(sheetOf(rows(5, 3), model))).toMatchObject({ reach: 'beyond', moveMm: 0, action: 'leave' });
  expect(moveOf(sheetOf(rows(-30), model))).toMatchObject({ reach: 'beyond', moveMm: -3, action: 'forward' });
  // A rule laid somewhere else than at the nominal scale length tells of moves and not of setbacks.
  expect(moveOf(sheetOf(rows(5, 25), model))).toMatchObject({ reach: 'assumed', setbackMm: 0 });
  expect(moveOf(sheetOf(rows(5), { ...larch, travelMm: null }))).toMatchObject({ reach: 'unknown' });
});

test('readings that no saddle can explain give the largest move there is, never an error', () => {
  for (const cents of [-550, 550])
    expect(
      Math.abs(
        moveOf(
          sheetOf(
            [
              { fret: 12, cents },
              { fret: 17, cents },
            ],
            { ...larch, travelMm: null },
          ),
        ).moveMm,
      ),
    ).toBe(64.8);
});

/** Strings read at the 12th and the 17th on one saddle, as the move sees them. */
function saddleOf(readings: readonly (readonly [number, number])[], rises: readonly number[]): readonly KnownString[] {
  const saddle = rises.map((_, at) => at + 1);
  const rows = readings.flatMap(([cents12, cents17], at) => [
    { string: at + 1, fret: 12, cents: cents12 },
    { string: at + 1, fret: 17, cents: cents17 },
  ]);
  const sheet = sheetOf(rows, { ...larch, rises, saddles: [saddle] });
  return sheet.saddles[0]!.strings as unknown as readonly KnownString[];
}

const losses: Loss[] = [{ kind: 'squared' }, { kind: 'minimax' }, { kind: 'audible', thresholdCents: 3 }];

test.each(losses)('the shift of a shared saddle is that of least cost on a fine grid: $kind', (loss) => {
  const uniform = uniformRandom(7);
  for (let trial = 0; trial < 4; trial++) {
    const count = trial % 2 === 0 ? 2 : 6;
    const rises = Array.from({ length: count }, () => 6 * uniform());
    const strings = saddleOf(
      rises.map((rise) => {
        const twelfth = 12 * uniform() - 6;
        return [twelfth, rise + kappa * twelfth + uniform() - 0.5] as const;
      }),
      rises,
    );
    const weights = strings.map(({ string }) => usageWeights(evenUsage, string, 22));
    const found = leastCostShift(strings, weights, loss);
    let [best, least] = [NaN, Infinity];
    for (let shift = -9; shift <= 9; shift += 0.02) {
      const cost = shiftCost(shift, strings, weights, loss);
      if (cost < least) [best, least] = [shift, cost];
    }
    if (loss.kind === 'audible') {
      // Costs within `alikeCents` sound alike; there the one nearest to the least mean square error is taken.
      expect(shiftCost(found, strings, weights, loss)).toBeLessThan(least + alikeCents + 1e-4);
      const fine = (shift: number): boolean => shiftCost(shift, strings, weights, loss) <= least + alikeCents;
      const squares = leastCostShift(strings, weights, { kind: 'squared' });
      let nearest = NaN;
      for (let shift = -9; shift <= 9; shift += 0.02)
        if (fine(shift) && !(Math.abs(shift - squares) >= Math.abs(nearest - squares))) nearest = shift;
      expect(Math.abs(found - nearest)).toBeLessThan(0.021);
    } else {
      expect(Math.abs(found - best)).toBeLessThan(0.021);
      expect(shiftCost(found, strings, weights, loss)).toBeLessThanOrEqual(least + 1e-9);
    }
  }
});

// Independent: the mean square error over strings and frets is a parabola in the shift, its minimum -sum g e / sum g^2.
test('the shift of a shared saddle under squared loss is the least-squares one', () => {
  const strings = saddleOf(
    [
      [4, 9],
      [-1, 3],
    ],
    [2, 5],
  );
  const usage: Usage = new Map([
    [1, new Map([[12, 1]])],
    [2, new Map([[12, 3]])],
  ]);
  const weights = strings.map(({ string }) => usageWeights(usage, string, 22));
  // Played at the 12th alone each string's best is a 12th of 0; each string counts alike.
  expect(leastCostShift(strings, weights, { kind: 'squared' })).toBeCloseTo(-(4 - 1) / 2, 3);
});

test('a shared saddle has one move, and each string says how far from its target it stays', () => {
  const model = { model: 'Larch', rises: [3, 3], share: 0.6, saddles: [[1, 2]] };
  const sheet = sheetOf(
    [
      { string: 1, fret: 12, cents: 8 },
      { string: 1, fret: 17, cents: 3 + kappa * 8 },
      { string: 2, fret: 12, cents: 4 },
      { string: 2, fret: 17, cents: 3 + kappa * 4 },
    ],
    model,
  );
  expect(sheet.saddles).toHaveLength(1);
  const [first, second] = sheet.saddles[0]!.strings as [KnownStringPlan, KnownStringPlan];
  expect(moveOf(sheet).action).toBe('back');
  // Alike in rise and usage, the two share the difference of 4 cents.
  expect(first.residual! - second.residual!).toBeCloseTo(4, 9);
  expect(first.predicted12! - first.target).toBeCloseTo(first.residual!, 12);
});
type KnownStringPlan = Worksheet['saddles'][number]['strings'][number];

test('planMove and followSaddle give no move without a 12th or a 17th', () => {
  const sheet = sheetOf([{ fret: 5, cents: 1 }], larch);
  expect(sheet.saddles[0]!.move).toBeUndefined();
  expect(sheet.notes).toContain(
    'String 1: neither the 12th nor the 17th was read, so nothing can be said of the saddle. Read both.',
  );
  const facts: SaddleFacts = { scaleMm: 648, saddleMm: null, mmPerTurn: null, travelMm: null };
  expect(followSaddle([1], [], facts, { usage: evenUsage, loss: { kind: 'squared' }, frets: 22 })).toBeUndefined();
  const known = saddleOf([[2, 5]], [3]);
  const move = planMove(known, facts, { usage: [], loss: { kind: 'squared' }, gain: unknownGain });
  expect(move.turns).toBeNull();
});
