import type { ModelSpec } from '../logs/models.ts';
import type { Trend } from '../trend/trend.ts';
import { forecastModel } from './forecast.ts';
import type { Loss } from './loss.ts';
import { ruleShare, rulesOfThumb, type RuleOfThumb } from './rules-of-thumb.ts';
import { saddleCost } from './share.ts';
import { neckOf, saddleStrings, type StandardEntry } from './standard.ts';
import type { Usage } from './usage.ts';

/** A share and what it is expected to cost on one string, in cents (see `expectedCost`). */
export interface CostPoint {
  readonly share: number;
  readonly cost: number;
}

/** Expected cost of one string over all shares, with the standard's choice and the rules of thumb on it. */
export interface CostCurve {
  readonly model: string;
  readonly string: number;
  /** Strings that the same saddle carries: the choice is the best for all of them, maybe not for this one. */
  readonly saddle: readonly number[];
  /** What the cost measures. */
  readonly loss: Loss;
  /** Shares from here to there cost the saddle's strings less than `negligibleCents` more than the least: as good to the ear. */
  readonly fineLow: number;
  readonly fineHigh: number;
  /** By share from 0 to 1, evenly spaced. */
  readonly points: readonly CostPoint[];
  readonly chosen: CostPoint;
  readonly rules: readonly (CostPoint & { readonly rule: RuleOfThumb })[];
}

/** What a standard was made from, as `makeStandard` was given it. */
export interface CostCurveOptions {
  readonly trend: Trend;
  readonly specs: readonly ModelSpec[];
  readonly usage: Usage;
  readonly loss: Loss;
}

/** Steps from share 0 to 1. */
const steps = 50;

/**
 * The expected cost of a string of the standard against its share.
 *
 * @throws {RangeError} when the trend does not hold the entry's model and string
 */
export function costCurve(entry: StandardEntry, { trend, specs, usage, loss }: CostCurveOptions): CostCurve {
  const { model, string, saddle, fineLow, fineHigh } = entry;
  const found = trend.models.find((one) => one.model === model);
  if (!found?.cells.some((cell) => cell.string === string))
    throw new RangeError(
      `Cannot draw costs of string ${string} of "${model}": the trend does not hold it; expected the trend that the standard was made from`,
    );
  const neck = neckOf(found, specs);
  const alone = saddleStrings([string], forecastModel(found, trend), usage, neck.frets);
  const strings = Math.max(...found.cells.map((cell) => cell.string), ...neck.saddles.flat());
  const point = (share: number): CostPoint => ({ share, cost: saddleCost(share, alone, loss) });
  return {
    model,
    string,
    saddle,
    loss,
    fineLow,
    fineHigh,
    points: Array.from({ length: steps + 1 }, (_, at) => point(at / steps)),
    chosen: point(entry.share),
    rules: rulesOfThumb.map((rule) => ({ rule, ...point(ruleShare(rule, string, strings)) })),
  };
}
