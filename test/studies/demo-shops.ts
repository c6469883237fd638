/**
 * How well the trend does on invented shops whose truth is known: `node --import tsx test/studies/demo-shops.ts [SHOPS] [FIRST_SEED]`.
 *
 * Every shop is made anew with another seed; printed per shop: how many 95 % intervals for the rise hold the truth, bias and
 * root mean square error of pooled and raw rises, bad rows refused for their own reason, faults found, false alarms.
 */
import { makeShop, type Shop } from '../../data/demo/make-shop.ts';
import { logReader } from '../../src/logs/read-log.ts';
import { readModels } from '../../src/logs/models.ts';
import { sumReadings } from '../../src/sources/block-sums.ts';
import { fitTrend } from '../../src/trend/fit-trend.ts';

const shops = Number(process.argv[2] ?? 20);
const firstSeed = Number(process.argv[3] ?? 1);

function readShop(shop: Shop): ReturnType<ReturnType<typeof logReader>['finish']> {
  const { models } = readModels(String(shop.files['models.csv']), 'models.csv');
  const reader = logReader({ models });
  for (const [path, content] of Object.entries(shop.files)) {
    if (path === 'models.csv') continue;
    const file = reader.open(path);
    file.push(typeof content === 'string' ? Buffer.from(content) : content);
    file.end();
  }
  return reader.finish();
}

const total = {
  cells: 0,
  held: 0,
  squaresPooled: 0,
  squaresRaw: 0,
  bias: 0,
  wrongRejects: 0,
  faults: 0,
  found: 0,
  alarms: 0,
};
console.log('seed  cells  held   bias  rmse pooled  rmse raw  bad rows  wrong  faults  found  false alarms');
for (let seed = firstSeed; seed < firstSeed + shops; seed++) {
  const shop = makeShop(seed);
  const log = readShop(shop);
  const trend = fitTrend(sumReadings(log.readings));
  const one = { cells: 0, held: 0, squaresPooled: 0, squaresRaw: 0, bias: 0 };
  for (const { model, cells } of trend.models)
    for (const { string, rise, raw } of cells) {
      const truth = shop.truth.cells.find((cell) => cell.model === model && cell.string === string)!.rise;
      one.cells++;
      one.held += Number(rise.low <= truth && truth <= rise.high);
      one.bias += rise.estimate - truth;
      one.squaresPooled += (rise.estimate - truth) ** 2;
      one.squaresRaw += (raw!.estimate - truth) ** 2;
    }
  const key = ({ file, line, column, rule }: { file: string; line: number; column: string; rule: string }): string =>
    [file, line, column, rule].join('|');
  const planted = new Set(shop.truth.badRows.map(key));
  const refused = new Set(log.rejects.map(key));
  const wrong =
    [...planted].filter((row) => !refused.has(row)).length + [...refused].filter((row) => !planted.has(row)).length;
  const matches =
    (fault: { instrument: string; kind: string }) =>
    (other: { instrument: string; kind: string }): boolean =>
      other.instrument === fault.instrument && other.kind === fault.kind;
  const found = shop.truth.faults.filter((fault) => trend.faults.some(matches(fault))).length;
  const alarms = trend.faults.filter(
    (fault) => !shop.truth.faults.some(({ instrument }) => instrument === fault.instrument),
  ).length;
  const percent = (100 * one.held) / one.cells;
  console.log(
    [
      String(seed).padStart(4),
      String(one.cells).padStart(6),
      `${percent.toFixed(0)} %`.padStart(6),
      (one.bias / one.cells).toFixed(2).padStart(6),
      Math.sqrt(one.squaresPooled / one.cells)
        .toFixed(3)
        .padStart(12),
      Math.sqrt(one.squaresRaw / one.cells)
        .toFixed(3)
        .padStart(9),
      String(planted.size).padStart(9),
      String(wrong).padStart(6),
      String(shop.truth.faults.length).padStart(7),
      String(found).padStart(6),
      String(alarms).padStart(13),
    ].join(' '),
  );
  for (const name of ['cells', 'held', 'bias', 'squaresPooled', 'squaresRaw'] as const) total[name] += one[name];
  total.wrongRejects += wrong;
  total.faults += shop.truth.faults.length;
  total.found += found;
  total.alarms += alarms;
}
console.log(
  `\n${shops} shops, ${total.cells} intervals: ${((100 * total.held) / total.cells).toFixed(1)} % hold the true rise; ` +
    `bias ${(total.bias / total.cells).toFixed(3)}, rmse pooled ${Math.sqrt(total.squaresPooled / total.cells).toFixed(3)}, ` +
    `raw ${Math.sqrt(total.squaresRaw / total.cells).toFixed(3)} cents;\n` +
    `${total.wrongRejects} rows refused or kept wrongly; ${total.found} of ${total.faults} faults found, ${total.alarms} false alarms.`,
);
