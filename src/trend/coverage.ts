import { mean } from '../statistics/location-scale.ts';
import { fitTrend } from './fit-trend.ts';
import { seenRise, type ShopPlan, simulateShop } from './simulate-shop.ts';

/** How intervals and estimates of the rise did on simulated shops whose truth is known. */
export interface Coverage {
  readonly shops: number;
  /** Cells (model and string) over all shops. */
  readonly cells: number;
  /** Part of the cells whose 95 % interval holds the true rise, pooled and raw, and the standard error of the former between shops. */
  readonly pooled: number;
  readonly pooledError: number;
  readonly raw: number;
  /** Mean error and root mean square error, in cents. */
  readonly biasPooled: number;
  readonly biasRaw: number;
  readonly rmsePooled: number;
  readonly rmseRaw: number;
  /** Mean width of the pooled intervals, in cents. */
  readonly width: number;
}

/**
 * Simulates shops, fits each, and holds the rises against the truth. Shops without readings at many frets are held to
 * what their readings can know, the rise with the nut's part in it.
 *
 * @param seed of the first shop; each further one adds 1000
 * @param each called after every shop, with the number done
 */
export function studyCoverage(
  shops: number,
  plan: ShopPlan,
  seed: number,
  each: (done: number) => void = () => undefined,
): Coverage {
  const errors = { pooled: [] as number[], raw: [] as number[] };
  const held: number[] = [];
  let [rawHeld, width] = [0, 0];
  for (let shop = 0; shop < shops; shop++) {
    const made = simulateShop(seed + 1000 * shop, plan);
    const trend = fitTrend(made.sums);
    let inside = 0;
    let cells = 0;
    for (const { model, cells: strings } of trend.models) {
      const at = made.sums.models.indexOf(model);
      for (const { string, rise, raw } of strings) {
        const truth = plan.manyFretsEvery > 0 ? made.rise[at]![string - 1]! : seenRise(made, at, string);
        errors.pooled.push(rise.estimate - truth);
        inside += Number(rise.low <= truth && truth <= rise.high);
        width += rise.high - rise.low;
        cells++;
        if (!raw) continue;
        errors.raw.push(raw.estimate - truth);
        rawHeld += Number(raw.low <= truth && truth <= raw.high);
      }
    }
    held.push(inside / cells);
    each(shop + 1);
  }
  const pooled = mean(held);
  return {
    shops,
    cells: errors.pooled.length,
    pooled,
    pooledError: Math.sqrt(mean(held.map((one) => (one - pooled) ** 2)) / shops),
    raw: rawHeld / errors.raw.length,
    biasPooled: mean(errors.pooled),
    biasRaw: mean(errors.raw),
    rmsePooled: Math.sqrt(mean(errors.pooled.map((error) => error ** 2))),
    rmseRaw: Math.sqrt(mean(errors.raw.map((error) => error ** 2))),
    width: width / errors.pooled.length,
  };
}
