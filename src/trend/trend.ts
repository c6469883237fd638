import type { BlockSums, Covariate } from '../sources/block-sums.ts';
import type { Fault } from './fault-screen.ts';
import type { DownWeighted } from './robust-weights.ts';
import type { Spread } from './string-moments.ts';

/** An estimate in cents with its standard error, degrees of freedom and 95 % interval. */
export interface Estimate {
  readonly estimate: number;
  readonly standardError: number;
  readonly df: number;
  readonly low: number;
  readonly high: number;
}

/** The rise of one string of one model, in cents. */
export interface CellTrend {
  readonly string: number;
  /** Instruments of the model on which this string was read at two frets or more, one of them above the 12th. */
  readonly instruments: number;
  /** Pooled: this cell's readings and what other models and strings tell of it, the nut's part taken out where it can be. */
  readonly rise: Estimate;
  /** Raw: the mean over this model's instruments alone, the model's nut part taken out; null without readings at 12 and 17. */
  readonly raw: Estimate | null;
  /** The usual step of the readings in cents; 0 where not stated. */
  readonly resolutionCents: number;
}

export interface ModelTrend {
  readonly model: string;
  readonly instruments: number;
  /** Nut offset: the same error at every fret. Estimate and standard error are 0 where it cannot be told from the rise. */
  readonly nut: Estimate;
  /** By string, thinnest first. */
  readonly cells: readonly CellTrend[];
  /** Covariance of the estimates (nut, rise of each cell in order), in cents squared. */
  readonly covariance: readonly (readonly number[])[];
}

/** One technician's hand against the mean of the shop's hands, in cents; positive reads sharper. */
export interface Hand {
  readonly technician: string;
  readonly rise: Estimate;
  readonly nut: Estimate | null;
}

export interface Trend {
  readonly models: readonly ModelTrend[];
  /** What is known of a model before any of its instruments is read: the shop's means, and how far models are from them. */
  readonly unread: ModelTrend;
  /** Mean rise over models and strings. */
  readonly shop: Estimate;
  readonly spread: Spread;
  /** Standard deviations, in cents, between models, between strings, of the two together, and of the models' nut offsets. */
  readonly pooling: {
    readonly model: number;
    readonly string: number;
    readonly modelString: number;
    readonly modelNut: number;
  };
  readonly hands: readonly Hand[];
  readonly covariates: readonly CovariateTrend[];
  readonly downWeighted: readonly DownWeighted[];
  readonly faults: readonly Fault[];
  /** Plain sentences on what the estimates contain, what was left out and why. */
  readonly notes: readonly string[];
  readonly sums: BlockSums;
}

/** A covariate's part in the rise. */
export interface CovariateTrend {
  readonly name: Covariate;
  /** Cents of rise per unit: per mm, or wound against plain. */
  readonly perUnit: Estimate;
  /** Blocks (string and pass) without a value; they count as the mean. */
  readonly missing: number;
}
