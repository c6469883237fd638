import { mean } from '../statistics/location-scale.ts';
import { saddleLeverage } from '../acoustics/frets.ts';
import type { BlockSums } from '../sources/block-sums.ts';
import { halfWidth } from '../statistics/distributions.ts';
import type { Combination } from '../statistics/mixed/combine.ts';
import { collinearity } from '../statistics/collinearity.ts';
import { handCombination, riseOfShape, sourcesOf, sum } from './cause-sources.ts';
import type { Cause } from './causes.ts';
import { causeParts, decomposeModel, fewestFrets, less, onlyInstruments, shapeOf } from './decompose-model.ts';
import { decompositionNotes } from './decompose-words.ts';
import type { Estimate } from './trend.ts';
import { type LeftAtFret, leftAtFrets } from './left-at-frets.ts';
import { robustFit } from './robust-fit.ts';

/** The part of one cause in the rise `t = cents17 - kappa cents12`. */
export interface CausePart {
  /** `nut`, a cause's name, or `rest`: what no cause explains. */
  readonly cause: string;
  /** Its size in `unit`; null for what is taken as predicted. */
  readonly size: Estimate | null;
  readonly unit: string;
  /** Cents of the rise, mean over the strings read. */
  readonly rise: Estimate;
  readonly byString: readonly { readonly string: number; readonly rise: Estimate }[];
  /** By how much the variance of its size exceeds what it would be were all other sizes known. */
  readonly inflation: number;
  /** Part of its shape, in squared cents at the frets read, that is not a saddle's. */
  readonly besideSaddle: number;
}

/** Causes that the readings hold apart badly, and their sum, which they know better. */
export interface KnownTogether {
  readonly causes: readonly [string, string];
  readonly rise: Estimate;
}

/** One technician's hand against the mean hand: its part of the rise in cents. */
export interface HandPart {
  readonly technician: string;
  readonly rise: Estimate;
}

export interface Decomposition {
  /** The model, or the instruments, taken apart. */
  readonly of: string;
  readonly instruments: number;
  readonly strings: readonly number[];
  /** The whole rise: the sum of all parts. */
  readonly total: Estimate;
  readonly parts: readonly CausePart[];
  readonly hands: readonly HandPart[];
  readonly together: readonly KnownTogether[];
  /** Square root of the largest over the smallest eigenvalue of the correlations of the sizes: 1 where all are told apart. */
  readonly condition: number;
  /** What the readings show at each fret beyond all causes. */
  readonly left: readonly LeftAtFret[];
  /** Plain sentences on what was told apart, what was not, and what is in what. */
  readonly notes: readonly string[];
}

export interface DecomposeOptions {
  /** What may cause a rise beside nut and saddle; see `physicalCauses`. */
  readonly causes: readonly Cause[];
  /** The model to take apart. */
  readonly model: string;
  /** Some instruments of the model alone; default all. */
  readonly instruments?: readonly string[];
}

/** A cause whose variance is inflated by more than this is held apart badly (Marquardt 1970, Technometrics 12, 591-612: 10). */
export const mostInflation = 10;
/** Two causes are known better together when the error of their sum is under this part of either's own. */
const betterTogether = 0.5;

/**
 * Takes the rise of a model, or of some of its instruments, apart into causes: nut, those given by their shapes along the neck,
 * technicians' hands, and a rest. Sizes are told from all readings at once by a mixed model (see `decomposeModel`), with the saddle
 * projected out of every block: it has no part in the rise.
 *
 * Shapes that look alike cannot be held apart; `parts[].inflation`, `together` and the notes say which, and what is known of their
 * sum.
 *
 * @throws {RangeError} when the model or an instrument is not in the log, a name is given twice, or no string was read at 5 frets
 * or more on one pass
 */
export function decomposeRise(sums: BlockSums, { causes, model, instruments }: DecomposeOptions): Decomposition {
  const names = ['nut', 'rest', ...causes.map(({ name }) => name)];
  const twice = names.find((name, at) => names.indexOf(name) < at);
  if (twice !== undefined)
    throw new RangeError(`Cannot tell two causes named "${twice}" apart; give each its own name`);
  const all = onlyInstruments(sums, instrumentsOf(sums, model, instruments));
  const of = instruments ? instruments.join(', ') : model;
  requireManyFrets(all, of);
  const [taken, told] = [
    causes.filter(({ size }) => size === 'as predicted'),
    causes.filter(({ size }) => size === 'estimated'),
  ];
  const own = taken.reduce((left, cause) => less(left, shapeOf(left, cause)), all);
  const parts = causeParts(own, told);
  const { fit, weights } = robustFit(own, (rows, root, sigma) => decomposeModel(own, rows, { parts, root, sigma }));
  const strings = [...new Set(own.blockString)].sort((a, b) => a - b);
  const instrument = own.blockInstrument[0]!;
  const sources = sourcesOf(told, strings, { parts, instrument });
  const asked = new Asked();
  const total = asked.add(sum(sources.flatMap(({ mean }) => [mean])));
  const places = sources.map(({ size, mean, byString }) => ({
    size: asked.add(size),
    mean: asked.add(mean),
    byString: byString.map((one) => asked.add(one)),
  }));
  const pairs = sources.flatMap((_, one) =>
    sources.slice(one + 1).map((_unused, at) => {
      const other = one + 1 + at;
      return { one, other, place: asked.add(sum([sources[one]!.mean, sources[other]!.mean])) };
    }),
  );
  const hands = parts.identified.technicians
    ? own.technicians.map((technician, at) => ({ technician, place: asked.add(handCombination(own, parts, at)) }))
    : [];
  const combined = fit.combine(asked.all);
  const root = Math.sqrt(weights.varianceFactor);
  const estimates = combined.estimates.map(({ estimate, standardError, df }) =>
    estimateOf(estimate, standardError * root, df),
  );
  const { condition, inflation } = collinearity(
    places.map(({ size: a }) => places.map(({ size: b }) => combined.covariance[a]![b]!)),
  );
  const fixedPart = (cents: number): Estimate => ({
    estimate: cents,
    standardError: 0,
    df: Infinity,
    low: cents,
    high: cents,
  });
  const predicted = taken.map((cause): CausePart => ({
    cause: cause.name,
    size: null,
    unit: cause.unit,
    rise: fixedPart(mean(strings.map((string) => riseOfShape(cause, string)))),
    byString: strings.map((string) => ({ string, rise: fixedPart(riseOfShape(cause, string)) })),
    inflation: 1,
    besideSaddle: besideSaddle(all, shapeOf(all, cause)),
  }));
  const offset = predicted.reduce((added, { rise }) => added + rise.estimate, 0);
  const whole = estimates[total]!;
  const found: Omit<Decomposition, 'notes'> = {
    of,
    instruments: new Set(own.blockInstrument).size,
    strings,
    total: estimateOf(whole.estimate + offset, whole.standardError, whole.df),
    parts: [
      ...sources.map(({ name, unit, shape }, at): CausePart => ({
        cause: name,
        size: estimates[places[at]!.size]!,
        unit,
        rise: estimates[places[at]!.mean]!,
        byString: strings.map((string, s) => ({ string, rise: estimates[places[at]!.byString[s]!]! })),
        inflation: inflation[at]!,
        besideSaddle: besideSaddle(own, shapeOf(own, { shape })),
      })),
      ...predicted,
    ],
    hands: hands.map(({ technician, place }) => ({ technician, rise: estimates[place]! })),
    together: pairs.flatMap(({ one, other, place }): KnownTogether[] => {
      const [a, b, both] = [places[one]!.mean, places[other]!.mean, place].map(
        (at) => estimates[at]!.standardError,
      ) as [number, number, number];
      const isBad = inflation[one]! > mostInflation || inflation[other]! > mostInflation;
      return isBad && both < betterTogether * Math.min(a, b)
        ? [
            {
              causes: [sources[one]!.name, sources[other]!.name],
              rise: estimates[place]!,
            },
          ]
        : [];
    }),
    condition,
    left: leftAtFrets(own, fit, parts),
  };
  return {
    ...found,
    notes: decompositionNotes(found, {
      dropped: fit.dropped,
      weights,
      technicians: own.technicians.length,
      mostInflation,
    }),
  };
}

function instrumentsOf(sums: BlockSums, model: string, wanted: readonly string[] | undefined): Set<number> {
  const at = sums.models.indexOf(model);
  if (at < 0)
    throw new RangeError(`Cannot take "${model}" apart: the log has no such model; it has ${sums.models.join(', ')}`);
  const own = [...sums.modelOfInstrument.keys()].filter((instrument) => sums.modelOfInstrument[instrument] === at);
  if (!wanted) return new Set(own);
  const names = own.map((instrument) => sums.instruments[instrument]!);
  return new Set(
    wanted.map((name) => {
      const place = names.indexOf(name);
      if (place < 0)
        throw new RangeError(
          `Cannot take "${name}" apart: it is no ${model} in the log; there are ${names.slice(0, 20).join(', ')}${names.length > 20 ? ` and ${names.length - 20} more` : ''}`,
        );
      return own[place]!;
    }),
  );
}

function requireManyFrets(sums: BlockSums, of: string): void {
  const most = Array.from(sums.blockString.keys()).reduce(
    (found, block) =>
      Math.max(found, new Set(sums.cellFret.subarray(sums.blockStart[block], sums.blockStart[block + 1])).size),
    0,
  );
  if (most < fewestFrets)
    throw new RangeError(
      `Cannot take the rise of ${of} apart: no string was read at more than ${most} fret${most === 1 ? '' : 's'} on one pass; ` +
        `expected ${fewestFrets} or more, such as 1, 3, 5, 7, 9, 12, 15, 17 and 19, on a few instruments`,
    );
}

/** Part of a shape's squares that is left when the saddle of every block stands where it likes. */
function besideSaddle(sums: BlockSums, shape: Float64Array): number {
  let [left, all] = [0, 0];
  for (let block = 0; block < sums.blockString.length; block++) {
    let [ss, sg, gg] = [0, 0, 0];
    for (let cell = sums.blockStart[block]!; cell < sums.blockStart[block + 1]!; cell++) {
      const g = saddleLeverage(sums.cellFret[cell]!);
      ss += shape[cell]! ** 2;
      sg += shape[cell]! * g;
      gg += g * g;
    }
    all += ss;
    left += ss - (gg > 0 ? sg ** 2 / gg : 0);
  }
  return all > 0 ? left / all : 1;
}

/** Combinations asked for in one call. */
class Asked {
  readonly all: Combination[] = [];

  add(one: Combination): number {
    return this.all.push(one) - 1;
  }
}

function estimateOf(estimate: number, standardError: number, df: number): Estimate {
  const reach = standardError > 0 ? halfWidth(0.95, df) * standardError : 0;
  return { estimate, standardError, df, low: estimate - reach, high: estimate + reach };
}
