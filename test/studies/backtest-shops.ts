/**
 * Does the standard beat the rules of thumb where the truth departs from its model? `node --import tsx
 * test/studies/backtest-shops.ts [SHOPS] [AUDIBLE_CENTS] [KIND,...]`
 *
 * SHOPS simulated shops (default 100) of each kind. In each a standard is chosen from the shop's readings; then new instruments of
 * its models are drawn from the truth, their saddles set by each policy from two readings with noise, and their true errors at
 * every fret weighed as the whole-neck profile says. Prints Markdown tables of the mean audible excess and of the root mean square
 * error, in cents; behind a rule's mean the policy's less the rule's, with the 95 % interval of the paired t over shops. Bold: the
 * rule leaves less, and the interval does not hold 0.
 *
 * Each kind has two rows: the standard as it is chosen, and the share of least expected cost alone, which the standard leaves by up to
 * 0.03 cents of cost for smaller errors (see `chooseShare`).
 */
import { readFileSync } from 'node:fs';
import { riseShape, saddleLeverage } from '../../src/acoustics/frets.ts';
import { setSaddle } from '../../src/policy/backtest.ts';
import { forecastModel } from '../../src/policy/forecast.ts';
import type { Loss } from '../../src/policy/loss.ts';
import { ruleShare, rulesOfThumb } from '../../src/policy/rules-of-thumb.ts';
import { chooseShare, saddleCost, type SaddleStrings } from '../../src/policy/share.ts';
import { saddleStrings } from '../../src/policy/standard.ts';
import { readUsage, usageWeights } from '../../src/policy/usage.ts';
import { halfWidth } from '../../src/statistics/distributions.ts';
import { normalRandom } from '../../src/statistics/random.ts';
import { fitTrend } from '../../src/trend/fit-trend.ts';
import { type ShopPlan, simulateShop, usualShop } from '../../src/trend/simulate-shop.ts';

const kinds: Record<string, ShopPlan> = {
  'as the model says': usualShop,
  'small: 4 models of 6': { ...usualShop, models: 4, instrumentsPerModel: 6 },
  'heavy tails (t, 5 df)': { ...usualShop, tails: 5 },
  'heavy tails (t, 3 df)': { ...usualShop, tails: 3 },
  'rise bends up by 1 cent': { ...usualShop, bend: 1 },
  'rise bends up by 2 cents': { ...usualShop, bend: 2 },
  'rise bends down by 1 cent': { ...usualShop, bend: -1 },
  'heavy tails (t, 3 df) and bend of 1': { ...usualShop, tails: 3, bend: 1 },
  '12th and 17th alone are read': { ...usualShop, manyFretsEvery: 0 },
  'steep: mean rise of 6': { ...usualShop, rise: { ...usualShop.rise, mean: 6 } },
  'true necks: mean rise of 0': { ...usualShop, rise: { ...usualShop.rise, mean: 0 } },
};

const shops = Number(process.argv[2] ?? 100);
const audibleCents = Number(process.argv[3] ?? 3);
const chosenKinds = process.argv[4]?.split(',').map(Number);
const loss: Loss = { kind: 'audible', thresholdCents: audibleCents };
const frets = 21;
const nextOfModel = 20;
const profile = new URL('../../shared/usage/whole-neck.csv', import.meta.url);
const usage = readUsage(readFileSync(profile, 'utf8'), 'whole-neck.csv');

/** The best of a grid of shares. */
function leastCostShare(saddle: SaddleStrings): number {
  const shares = Array.from({ length: 101 }, (_, at) => at / 100);
  const costs = shares.map((share) => saddleCost(share, saddle, loss));
  return shares[costs.indexOf(Math.min(...costs))]!;
}

const ownPolicies = ['as chosen', 'least cost alone'] as const;

/** By policy, our own first. */
interface Left {
  readonly excess: readonly number[];
  readonly rms: readonly number[];
}

/** What each policy leaves on the next instruments of one shop. */
function tryShop(plan: ShopPlan, seed: number): Left {
  const shop = simulateShop(seed, plan);
  const trend = fitTrend(shop.sums);
  const normal = normalRandom(seed + 500);
  const deviation = (sd: number): number => {
    if (plan.tails === Infinity) return sd * normal();
    let squares = 0;
    for (let df = 0; df < plan.tails; df++) squares += normal() ** 2;
    return (sd * normal() * Math.sqrt(plan.tails - 2)) / Math.sqrt(squares);
  };
  const excess = new Array<number>(ownPolicies.length + rulesOfThumb.length).fill(0);
  const squares = [...excess];
  let count = 0;
  for (const model of trend.models) {
    const at = shop.sums.models.indexOf(model.model);
    const forecasts = forecastModel(model, trend);
    const shares = model.cells.map(({ string }) => [
      chooseShare(saddleStrings([string], forecasts, usage, frets), [], loss).share,
      leastCostShare(saddleStrings([string], forecasts, usage, frets)),
      ...rulesOfThumb.map((rule) => ruleShare(rule, string, plan.strings)),
    ]);
    for (let next = 0; next < nextOfModel; next++) {
      const shared = deviation(plan.instrumentRise);
      model.cells.forEach(({ string }, cell) => {
        const nut = shop.nut[at]! + deviation(plan.stringNut);
        const rise = shop.rise[at]![string - 1]! + shared + deviation(plan.stringRise);
        const read = [nut + deviation(plan.reading), nut + rise + deviation(plan.reading)];
        const weights = usageWeights(usage, string, frets);
        shares[cell]!.forEach((share, policy) => {
          // Where the readings put the saddle; from it every true error follows.
          const [left] = setSaddle([{ string, frets: [12, 17], cents: read }], () => share);
          const move = left!.cents[0]! - read[0]!;
          for (let fret = 1; fret <= frets; fret++) {
            const u = riseShape(fret);
            const error = nut + rise * u + plan.bend * (u * u - u) + move * saddleLeverage(fret);
            excess[policy]! += weights[fret - 1]! * Math.max(0, Math.abs(error) - audibleCents);
            squares[policy]! += weights[fret - 1]! * error * error;
          }
        });
        count++;
      });
    }
  }
  return { excess: excess.map((sum) => sum / count), rms: squares.map((sum) => Math.sqrt(sum / count)) };
}

const mean = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length;
const signed = (value: number): string => `${value < 0 ? '−' : '+'}${Math.abs(value).toFixed(4)}`;

/** Rows of a table, one for each own policy: its mean, then every rule's with the paired difference. */
function rows(kind: string, values: readonly (readonly number[])[]): string {
  return ownPolicies.map((own, at) => row(`${kind}, ${own}`, values, at)).join('\n');
}

function row(name: string, values: readonly (readonly number[])[], own: number): string {
  const cells = rulesOfThumb.map((_, rule) => {
    const differences = values.map((one) => one[own]! - one[rule + ownPolicies.length]!);
    const centre = mean(differences);
    const variance = differences.reduce((sum, one) => sum + (one - centre) ** 2, 0) / (shops - 1);
    const reach = halfWidth(0.95, shops - 1) * Math.sqrt(variance / shops);
    const text = `${mean(values.map((one) => one[rule + ownPolicies.length]!)).toFixed(4)} (${signed(centre)} ± ${reach.toFixed(4)})`;
    return centre - reach > 0 ? `**${text}**` : text;
  });
  return `| ${[name, mean(values.map((one) => one[own]!)).toFixed(4), ...cells].join(' | ')} |`;
}

const header = [
  `| shops | this policy | ${rulesOfThumb.join(' | ')} |`,
  `|---|---|${rulesOfThumb.map(() => '---|').join('')}`,
];
console.log([`mean of what exceeds ±${audibleCents} cents, ${shops} shops of a kind\n`, ...header].join('\n'));
const squared: string[] = [];
for (const [at, [name, plan]] of Object.entries(kinds).entries()) {
  if (chosenKinds && !chosenKinds.includes(at)) continue;
  const left = Array.from({ length: shops }, (_, shop) => tryShop(plan, 11 + at + 1000 * shop));
  console.log(
    rows(
      name,
      left.map(({ excess }) => excess),
    ),
  );
  squared.push(
    rows(
      name,
      left.map(({ rms }) => rms),
    ),
  );
}
console.log([`\nroot mean square error, the same shops\n`, ...header, ...squared].join('\n'));
