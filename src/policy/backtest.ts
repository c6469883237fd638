import { saddleLeverage } from '../acoustics/frets.ts';
import { rise, sharedCents } from '../acoustics/rise.ts';
import type { ModelSpec } from '../logs/models.ts';
import { type BlockSums, meanAt } from '../sources/block-sums.ts';
import { uniformRandom } from '../statistics/random.ts';
import type { ModelTrend, Trend } from '../trend/trend.ts';
import { leaveOut, type ModelEstimates } from '../trend/leave-out.ts';
import { comparePolicies, type Comparison, type View } from './backtest-comparison.ts';
import { forecastModel } from './forecast.ts';
import { expectedCost, type Loss } from './loss.ts';
import { ruleShare, rulesOfThumb } from './rules-of-thumb.ts';
import { chooseShare } from './share.ts';
import { type Neck, neckOf, saddleStrings } from './standard.ts';
import { type Usage, usageWeights } from './usage.ts';

/** The house standard as it would stand without the instrument it is tried on, and the rules of thumb. */
export const policies = ['this standard', ...rulesOfThumb] as const;
export type Policy = (typeof policies)[number];

/** What a policy leaves on one instrument, in cents, as a mean over its strings. */
export interface Realised {
  /** Audible excess `max(0, |e| - a)` over the frets read, weighed by how often they are played. */
  readonly audible: number;
  /** The same over the 12th and the 17th alone, each counting one half. */
  readonly audible12And17: number;
  /** Root mean square error over the frets read, weighed by how often they are played, and over strings. */
  readonly error: number;
  /** The loss that the standard is chosen by, at the frets read (see `expectedCost`; strings together as in `saddleCost`). */
  readonly cost: number;
}

export interface TestedInstrument {
  readonly instrument: string;
  readonly model: string;
  readonly strings: number;
  /** The most frets at which one of its strings was read. */
  readonly frets: number;
  readonly realised: Readonly<Record<Policy, Realised>>;
}

export interface Backtest {
  readonly audibleCents: number;
  /** Instruments that could be tried; where there are very many, those tried are a sample. */
  readonly candidates: number;
  readonly instruments: readonly TestedInstrument[];
  /** The standard against each rule of thumb, seen in several ways; empty where no instrument can be seen so. */
  readonly comparisons: Readonly<Record<View, readonly Comparison[]>>;
}

export interface BacktestOptions {
  readonly specs: readonly ModelSpec[];
  readonly usage: Usage;
  readonly loss: Loss;
  /** Errors up to this many cents count as nothing; default the loss's own threshold, else 3. */
  readonly audibleCents?: number;
  /** Most instruments to try; of more, a sample is drawn. Default 300. */
  readonly most?: number;
  /** Seed of that sample; default 1. */
  readonly seed?: number;
}

/**
 * Tries the standard on every instrument of the log as if it had come in next: the shares are chosen from all *other*
 * instruments (see `leaveOut`), the saddle is set by them from the instrument's own readings, and the errors then left at the
 * frets that were read are held against those that the rules of thumb leave on the same strings.
 *
 * The readings are those of a string's first pass with the 12th and the 17th. They set the saddle and judge it, so the noise of
 * one reading is in every policy's errors alike. A saddle that carries several strings is put at the mean of the places that they
 * ask for.
 *
 * @throws {RangeError} when no instrument has a string read at the 12th and the 17th on one pass
 */
export function backtest(trend: Trend, options: BacktestOptions): Backtest {
  const { loss, most = 300, seed = 1 } = options;
  const { sums } = trend;
  const audibleCents = options.audibleCents ?? (loss.kind === 'audible' ? loss.thresholdCents : 3);
  const { without } = leaveOut(trend);
  const models = new Map(trend.models.map((model) => [model.model, { model, neck: neckOf(model, options.specs) }]));
  const read = readStrings(sums);
  const candidates = Array.from(sums.instruments.keys()).filter(
    (at) => read[at]!.length > 0 && models.has(sums.models[sums.modelOfInstrument[at]!]!),
  );
  if (candidates.length === 0)
    throw new RangeError(
      'Cannot try a standard on no instrument; expected at least one with a string read at the 12th and the 17th on one pass',
    );
  const instruments = sampled(candidates, most, seed).flatMap((at): TestedInstrument[] => {
    const estimates = without(at);
    if (!estimates) return [];
    const { model, neck } = models.get(estimates.model)!;
    return [
      {
        instrument: sums.instruments[at]!,
        model: estimates.model,
        strings: read[at]!.length,
        frets: Math.max(...read[at]!.map(({ frets }) => frets.length)),
        realised: tryPolicies(read[at]!, { estimates, model, neck, trend, audibleCents, ...options }),
      },
    ];
  });
  return { audibleCents, candidates: candidates.length, instruments, comparisons: comparePolicies(instruments) };
}

/** A string's readings on its first pass with both the 12th and the 17th, in cents. */
export interface ReadString {
  readonly string: number;
  readonly frets: readonly number[];
  readonly cents: readonly number[];
}

/** Per instrument, its strings that can be set by a share. */
function readStrings(sums: BlockSums): ReadString[][] {
  const read = sums.instruments.map((): ReadString[] => []);
  sums.blockString.forEach((string, block) => {
    const own = read[sums.blockInstrument[block]!]!;
    if (own.some((one) => one.string === string)) return;
    const frets = [...new Set(sums.cellFret.subarray(sums.blockStart[block], sums.blockStart[block + 1]))];
    if (!frets.includes(12) || !frets.includes(17)) return;
    own.push({ string, frets, cents: frets.map((fret) => meanAt(sums, block, fret)!) });
  });
  return read;
}

function sampled(candidates: readonly number[], most: number, seed: number): number[] {
  const uniform = uniformRandom(seed);
  const pool = [...candidates];
  const count = Math.min(most, pool.length);
  // Fisher and Yates: the first `count` places of a shuffle.
  for (let at = 0; count < candidates.length && at < count; at++) {
    const other = at + Math.floor(uniform() * (pool.length - at));
    [pool[at], pool[other]] = [pool[other]!, pool[at]!];
  }
  return pool.slice(0, count).sort((a, b) => a - b);
}

interface Trial extends BacktestOptions {
  readonly estimates: ModelEstimates;
  readonly model: ModelTrend;
  readonly neck: Neck;
  readonly trend: Trend;
  readonly audibleCents: number;
}

function tryPolicies(read: readonly ReadString[], trial: Trial): Record<Policy, Realised> {
  const { estimates, model, neck, trend, usage, loss } = trial;
  const forecasts = forecastModel(estimates, trend);
  const strings = Math.max(...model.cells.map((cell) => cell.string), ...neck.saddles.flat());
  const saddles = neck.saddles
    .map((saddle) => ({ saddle, carried: read.filter(({ string }) => saddle.includes(string)) }))
    .filter(({ carried }) => carried.length > 0);
  const chosen = saddles.map(
    ({ saddle }) => chooseShare(saddleStrings(saddle, forecasts, usage, neck.frets), [], loss).share,
  );
  const realised = (shareOf: (saddle: number, string: number) => number): Realised =>
    measure(
      saddles.flatMap(({ carried }, at) => setSaddle(carried, (string) => shareOf(at, string))),
      trial,
    );
  return Object.fromEntries(
    policies.map((policy) => [
      policy,
      realised((saddle, string) => (policy === 'this standard' ? chosen[saddle]! : ruleShare(policy, string, strings))),
    ]),
  ) as Record<Policy, Realised>;
}

/** The readings that are left when one saddle is moved to the mean of the places where its strings' shares want it. */
export function setSaddle(carried: readonly ReadString[], shareOf: (string: number) => number): ReadString[] {
  const moves = carried.map(({ string, frets, cents }) => {
    const [twelfth, seventeenth] = [cents[frets.indexOf(12)]!, cents[frets.indexOf(17)]!];
    return sharedCents(shareOf(string), rise(twelfth, seventeenth)).cents12 - twelfth;
  });
  const move = moves.reduce((sum, one) => sum + one, 0) / moves.length;
  return carried.map((one) => ({
    ...one,
    cents: one.cents.map((cents, at) => cents + move * saddleLeverage(one.frets[at]!)),
  }));
}

function measure(left: readonly ReadString[], { usage, neck, loss, audibleCents }: Trial): Realised {
  const excess = (cents: number): number => Math.max(0, Math.abs(cents) - audibleCents);
  let [audible, audible12And17, errors, squares, worst] = [0, 0, 0, 0, 0];
  for (const { string, frets, cents } of left) {
    const weights = weightsAt(frets, usageWeights(usage, string, neck.frets));
    const at = (fret: number): number => cents[frets.indexOf(fret)]!;
    audible += cents.reduce((sum, one, place) => sum + weights[place]! * excess(one), 0);
    audible12And17 += (excess(at(12)) + excess(at(17))) / 2;
    const exact = cents.map((mean) => ({ mean, sd: 0 }));
    errors += expectedCost(exact, weights, { kind: 'squared' }) ** 2;
    const cost = expectedCost(exact, weights, loss);
    squares += cost * cost;
    worst = Math.max(worst, cost);
  }
  return {
    audible: audible / left.length,
    audible12And17: audible12And17 / left.length,
    error: Math.sqrt(errors / left.length),
    cost: loss.kind === 'minimax' ? worst : Math.sqrt(squares / left.length),
  };
}

/** How often the frets read are played, to a sum of 1; alike where nothing is played at any of them. */
function weightsAt(frets: readonly number[], usage: ArrayLike<number>): number[] {
  const own = frets.map((fret) => usage[fret - 1] ?? 0);
  const sum = own.reduce((total, weight) => total + weight, 0);
  return own.map((weight) => (sum > 0 ? weight / sum : 1 / frets.length));
}
