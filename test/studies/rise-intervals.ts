/**
 * Do the 95 % intervals for the rise hold the truth? `node --import tsx test/studies/rise-intervals.ts [SHOPS] [PLAN,...]`.
 *
 * SHOPS simulated shops (default 340) of each plan: three sizes that follow the model, then shops whose truth departs from it.
 * Prints a Markdown table; a line is flagged where coverage falls outside 93 to 97 %.
 */
import { type Coverage, studyCoverage } from '../../src/trend/coverage.ts';
import { type ShopPlan, usualShop } from '../../src/trend/simulate-shop.ts';

const small: ShopPlan = { ...usualShop, models: 4, instrumentsPerModel: 6 };
const plans: Record<string, ShopPlan> = {
  'small: 4 models of 6 instruments': small,
  'middling: 6 models of 12': usualShop,
  'large: 8 models of 18': { ...usualShop, models: 8, instrumentsPerModel: 18 },
  'small, 12th and 17th alone, one pass': { ...small, manyFretsEvery: 0, passes: 1 },
  'small, one technician': { ...small, technicians: 1, hand: 0 },
  'two models of 6': { ...small, models: 2 },
  'small, heavy tails (t, 3 df)': { ...small, tails: 3 },
  'small, rise bends by 0.5 cents': { ...small, bend: 0.5 },
  'small, models alike (no spread)': { ...small, rise: { ...small.rise, model: 0, modelString: 0 } },
};

const shops = Number(process.argv[2] ?? 340);
const chosen = process.argv[3]?.split(',').map(Number);
const percent = (part: number): string => `${(100 * part).toFixed(1)} %`;

console.log('| shops | n | held, pooled (se) | held, raw | bias pooled | bias raw | rmse pooled | rmse raw | width |');
console.log('|---|---|---|---|---|---|---|---|---|');
for (const [at, [name, plan]] of Object.entries(plans).entries()) {
  if (chosen && !chosen.includes(at)) continue;
  const found: Coverage = studyCoverage(shops, plan, 7 + at);
  const cells = [
    found.pooled < 0.93 || found.pooled > 0.97 ? `**${name}**` : name,
    String(found.shops),
    `${percent(found.pooled)} (${percent(found.pooledError)})`,
    percent(found.raw),
    ...[found.biasPooled, found.biasRaw, found.rmsePooled, found.rmseRaw, found.width].map((value) => value.toFixed(3)),
  ];
  console.log(`| ${cells.join(' | ')} |`);
}
