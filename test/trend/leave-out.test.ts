import { expect, test } from 'vitest';
import type { BlockSums } from '../../src/sources/block-sums.ts';
import { projectSaddle } from '../../src/trend/contrast-rows.ts';
import { centreCovariates } from '../../src/trend/covariate-effects.ts';
import { fitTrend } from '../../src/trend/fit-trend.ts';
import type { Trend } from '../../src/trend/trend.ts';
import { leaveOut, type ModelEstimates } from '../../src/trend/leave-out.ts';
import { type ShopPlan, simulateShop, usualShop } from '../../src/trend/simulate-shop.ts';
import { identify, trendModel } from '../../src/trend/trend-model.ts';

const small: ShopPlan = { ...usualShop, models: 3, instrumentsPerModel: 6, strings: 3, passes: 1, manyFretsEvery: 2 };
const shop = (seed: number, plan: ShopPlan = small): BlockSums => {
  const { sums } = simulateShop(seed, plan);
  // Actions that differ from block to block, so that a covariate has something to say.
  const actionMm = Float64Array.from(sums.blockString, (string, block) => 1.5 + ((string * 7 + block * 3) % 5) / 10);
  return { ...sums, blockCovariates: { actionMm } };
};

/** The sums without the blocks of one instrument, everything else numbered as before. */
function without(sums: BlockSums, instrument: number): BlockSums {
  const blocks = [...sums.blockInstrument.keys()].filter((block) => sums.blockInstrument[block] !== instrument);
  const cells = blocks.map((block) => [sums.blockStart[block]!, sums.blockStart[block + 1]!] as const);
  const starts = cells.reduce((all, [from, to]) => [...all, all.at(-1)! + to - from], [0]);
  const ofBlock = <T extends Int32Array | Float64Array>(values: T): T =>
    values.filter((_, block) => sums.blockInstrument[block] !== instrument) as T;
  const ofCell = <T extends Int32Array | Float64Array>(values: T): T =>
    values.filter((_, cell) => cells.some(([from, to]) => from <= cell && cell < to)) as T;
  return {
    ...sums,
    blockInstrument: ofBlock(sums.blockInstrument),
    blockString: ofBlock(sums.blockString),
    blockPass: ofBlock(sums.blockPass),
    blockStart: Int32Array.from(starts),
    blockCovariates: { actionMm: ofBlock(sums.blockCovariates.actionMm!) },
    cellTechnician: ofCell(sums.cellTechnician),
    cellFret: ofCell(sums.cellFret),
    cellCount: ofCell(sums.cellCount),
    cellMean: ofCell(sums.cellMean),
    cellSquares: ofCell(sums.cellSquares),
    cellResolution: ofCell(sums.cellResolution),
  };
}

/** Solves A X = B by Gauss and Jordan with row exchanges. */
function solve(a: readonly (readonly number[])[], b: readonly (readonly number[])[]): number[][] {
  const n = a.length;
  const rows = a.map((row, at) => [...row, ...b[at]!]);
  for (let p = 0; p < n; p++) {
    const best = rows
      .slice(p)
      .reduce((most, row, at) => (Math.abs(row[p]!) > Math.abs(rows[most]![p]!) ? p + at : most), p);
    [rows[p], rows[best]] = [rows[best]!, rows[p]!];
    for (let i = 0; i < n; i++) {
      if (i === p) continue;
      const factor = rows[i]![p]! / rows[p]![p]!;
      if (factor !== 0) for (let j = p; j < rows[i]!.length; j++) rows[i]![j]! -= factor * rows[p]![j]!;
    }
  }
  return rows.map((row, at) => row.slice(n).map((value) => value / row[at]!));
}
const dot = (a: readonly number[], b: readonly number[]): number =>
  a.reduce((sum, value, at) => sum + value * b[at]!, 0);

/**
 * Best linear unbiased prediction by the marginal covariance matrix of all rows, dense: nothing of what `leaveOut` uses.
 * `b = k'V^-1 (y - X beta)` with error variance as in Robinson (1991), Statistical Science 6, 15-32.
 */
function densePrediction(trend: Trend, left: number): Pick<ModelEstimates, 'covariance'> & { estimates: number[] } {
  const { sums, spread, pooling } = trend;
  const { weights } = leaveOut(trend);
  const identified = identify(sums);
  const { used } = centreCovariates(
    sums,
    trend.covariates.map(({ name }) => name),
  );
  const rows = projectSaddle(sums, spread.reading);
  const { columns, description } = trendModel(sums, rows, { identified, root: weights.root, covariates: used });
  const kept = [...rows.block.keys()].filter((row) => sums.blockInstrument[rows.block[row]!] !== left);
  const values = (name: string): number[] => kept.map((row) => Number(columns[name]![row]));
  const sd: Record<string, number> = {
    'instrument,string stringRise': spread.stringRise,
    'instrument,string stringNut': spread.stringNut,
    'instrument instrumentRise': spread.instrumentRise,
    'model,string rise': pooling.modelString,
    'string rise': pooling.string,
    'model rise': pooling.model,
    'model nut': pooling.modelNut,
  };
  const random = description.random.map(({ group, effects }) => {
    const level = group.map(values);
    return {
      name: `${group.join(',')} ${effects[0]}`,
      level: kept.map((_, at) => level.map((one) => one[at]).join(':')),
      z: values(effects[0]!),
    };
  });
  const y = values('response');
  const fixedNames = (description.fixed as { numeric: string }[]).map(({ numeric }) => numeric);
  const x = fixedNames.map(values);
  const v = kept.map((_, i) =>
    kept.map((_unused, j) =>
      random.reduce(
        (sum, { name, level, z }) => sum + (level[i] === level[j] ? sd[name]! ** 2 * z[i]! * z[j]! : 0),
        i === j ? spread.reading ** 2 : 0,
      ),
    ),
  );
  const model = sums.modelOfInstrument[left]!;
  const strings = trend.models.find((one) => one.model === sums.models[model])!.cells.map(({ string }) => string);
  const usual = (string: number): number => {
    const { perBlock } = used[0]!;
    const own = [...sums.blockString.keys()].filter(
      (block) =>
        sums.blockString[block] === string &&
        sums.blockInstrument[block] !== left &&
        sums.modelOfInstrument[sums.blockInstrument[block]!] === model,
    );
    return own.reduce((sum, block) => sum + perBlock[block]!, 0) / own.length;
  };
  const asked = [null, ...strings].map((string) => {
    const parts: Record<string, string> =
      string === null
        ? { 'model nut': `${model}` }
        : { 'model rise': `${model}`, 'string rise': `${string}`, 'model,string rise': `${model}:${string}` };
    return {
      parts,
      fixed: fixedNames.map((name) =>
        string === null
          ? Number(name === 'nut')
          : name === 'rise'
            ? 1
            : name === 'rise per actionMm'
              ? usual(string)
              : 0,
      ),
      k: kept.map((_, at) =>
        random.reduce((sum, { name, level, z }) => sum + (parts[name] === level[at] ? sd[name]! ** 2 * z[at]! : 0), 0),
      ),
    };
  });
  const inverse = solve(
    v,
    kept.map((_, at) => [y[at]!, ...x.map((column) => column[at]!), ...asked.map(({ k }) => k[at]!)]),
  );
  const column = (at: number): number[] => inverse.map((row) => row[at]!);
  const information = x.map((one) => x.map((_, at) => dot(one, column(1 + at))));
  const [beta] = [
    solve(
      information,
      x.map((one) => [dot(one, column(0))]),
    ).map(([value]) => value!),
  ];
  const gaps = asked.map(({ fixed, k }) => fixed.map((value, at) => value - dot(k, column(1 + at))));
  const spreadOfGaps = gaps.map((gap) =>
    solve(
      information,
      gap.map((value) => [value]),
    ).map(([value]) => value!),
  );
  return {
    estimates: asked.map(({ k }, at) => dot(k, column(0)) + dot(gaps[at]!, beta)),
    covariance: asked.map((a, i) =>
      asked.map((b, j) => {
        const prior = Object.entries(a.parts).reduce(
          (sum, [name, level]) => sum + (b.parts[name] === level ? sd[name]! ** 2 : 0),
          0,
        );
        const known = dot(a.k, column(1 + x.length + j));
        return weights.varianceFactor * (prior - known + dot(gaps[i]!, spreadOfGaps[j]!));
      }),
    ),
  };
}

test('leaveOut equals the dense prediction from the other rows at the components and weights of the whole', () => {
  const trend = fitTrend(shop(3), { covariates: ['actionMm'] });
  const { without: estimatesWithout } = leaveOut(trend);
  for (const left of [0, 4, 11]) {
    const found = estimatesWithout(left)!;
    const expected = densePrediction(trend, left);
    [found.nut, ...found.cells.map(({ rise }) => rise)].forEach(({ estimate }, at) =>
      expect(estimate).toBeCloseTo(expected.estimates[at]!, 8),
    );
    found.covariance.forEach((row, i) =>
      row.forEach((value, j) => expect(value).toBeCloseTo(expected.covariance[i]![j]!, 8)),
    );
  }
});

test('leaveOut comes much closer to a whole new fit without the instrument than the trend with it does', () => {
  const sums = shop(9, usualShop);
  const trend = fitTrend(sums);
  const { without: estimatesWithout } = leaveOut(trend);
  let [fromRefit, fromWhole] = [0, 0];
  for (const left of [0, 5, 10]) {
    const found = estimatesWithout(left)!;
    const cellsOf = (one: Trend): number[] =>
      one.models.find(({ model }) => model === found.model)!.cells.map(({ rise }) => rise.estimate);
    const [refit, whole] = [cellsOf(fitTrend(without(sums, left))), cellsOf(trend)];
    found.cells.forEach(({ rise }, at) => {
      fromRefit += (rise.estimate - refit[at]!) ** 2;
      fromWhole += (whole[at]! - refit[at]!) ** 2;
    });
  }
  expect(Math.sqrt(fromRefit / fromWhole)).toBeLessThan(1 / 3);
});

// Without its only instrument nothing is known of a model's own deviation: its variance is the whole spread between models.
test('leaveOut gives the only instrument of a model the mean of the shop', () => {
  const { sums } = simulateShop(4, { ...usualShop, models: 4, instrumentsPerModel: 8, strings: 3 });
  const alone = 29;
  const lonely: BlockSums = {
    ...sums,
    models: [...sums.models, 'Model 5'],
    modelOfInstrument: sums.modelOfInstrument.map((model, at) => (at === alone ? 4 : model)),
  };
  const trend = fitTrend(lonely);
  const found = leaveOut(trend).without(alone)!;
  expect(found.model).toBe('Model 5');
  const means = found.cells.map(({ string }) => {
    const others = trend.models.filter(({ model }) => model !== 'Model 5');
    return others.reduce((sum, { cells }) => sum + cells.find((one) => one.string === string)!.rise.estimate, 0) / 4;
  });
  const { model, string, modelString } = trend.pooling;
  const most = Math.hypot(model, string, modelString);
  found.cells.forEach(({ rise }, at) => expect(Math.abs(rise.estimate - means[at]!)).toBeLessThan(most));
  expect(found.covariance[1]![1]).toBeGreaterThan(model ** 2 + modelString ** 2);
});

test('leaveOut of a model without a rise is null', () => {
  const { sums } = simulateShop(4, { ...usualShop, models: 3, instrumentsPerModel: 6, strings: 2, manyFretsEvery: 2 });
  // The last instrument becomes a model of its own, read at the 12th fret and below.
  const last = sums.instruments.length - 1;
  const low: BlockSums = {
    ...sums,
    models: [...sums.models, 'Low'],
    modelOfInstrument: sums.modelOfInstrument.map((model, at) => (at === last ? 3 : model)),
    cellFret: sums.cellFret.map((fret, cell) =>
      cell >= sums.blockStart[sums.blockInstrument.indexOf(last)]! && fret > 12 ? 2 : fret,
    ),
  };
  expect(leaveOut(fitTrend(low)).without(last)).toBeNull();
});
