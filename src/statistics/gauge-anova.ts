import { mean } from './location-scale.ts';
import fisherQuantile from '@stdlib/stats-base-dists-f-quantile';
import { chiSquaredQuantile, fCdf } from './distributions.ts';

/** Readings of a gauge study, one entry a reading: what was read, who read it, and on which part. */
export interface GaugeReadings {
  readonly values: ArrayLike<number>;
  readonly operators: readonly string[];
  readonly parts: readonly string[];
}

/** A variance with its interval, in squared units of the readings; 0 is a valid estimate. */
export interface VarianceEstimate {
  readonly variance: number;
  readonly low: number;
  readonly high: number;
}

/**
 * What the variance of a reading is made of. `reproducibility` is operator and interaction together, `gauge` that and
 * repeatability, `total` that and part.
 */
export type GaugeSource = 'part' | 'operator' | 'interaction' | 'repeatability' | 'reproducibility' | 'gauge' | 'total';

/** One line of an analysis of variance table. `f` and `p` are null on the line that others are tested against at last. */
export interface AnovaLine {
  readonly source: 'part' | 'operator' | 'interaction' | 'repeatability';
  readonly df: number;
  readonly sumOfSquares: number;
  readonly meanSquare: number;
  readonly f: number | null;
  readonly p: number | null;
}

/** A balanced gauge study by the analysis of variance. */
export interface GaugeAnova {
  /** The table; without its interaction line where that was pooled. */
  readonly table: readonly AnovaLine[];
  /** Whether the interaction was counted as repeatability. */
  readonly pooled: boolean;
  /** Estimates below 0 are given as 0. */
  readonly components: Readonly<Record<GaugeSource, VarianceEstimate>>;
}

/** Mean square with its degrees of freedom and what it counts for in a sum. */
export interface WeightedMeanSquare {
  readonly coefficient: number;
  readonly meanSquare: number;
  readonly df: number;
}

/**
 * Interval for a combination of variances, `sum of coefficient * expected mean square`, by the modified large sample method:
 * exact where one mean square counts alone, near the stated level elsewhere. Limits below 0 are given as 0.
 *
 * @param terms independent mean squares of a balanced layout, at most one of them with a negative coefficient
 * @param level such as 0.95
 * @see Graybill & Wang (1980), J. Am. Stat. Assoc. 75, 869; Ting, Burdick, Graybill, Jeyaratnam & Lu (1990), J. Stat.
 *      Comput. Simul. 35, 135, for a negative coefficient; both after Burdick, Borror & Montgomery (2003), J. Qual. Technol.
 *      35, 342 (formulas from memory, their coverage checked by simulation)
 */
export function varianceCombination(terms: readonly WeightedMeanSquare[], level: number): VarianceEstimate {
  const tail = (1 - level) / 2;
  const overExpected = (p: number, df: number): number => chiSquaredQuantile(p, df) / df;
  const parts = terms
    .filter(({ coefficient }) => coefficient !== 0)
    .map(({ coefficient, meanSquare, df }) => ({
      df,
      negative: coefficient < 0,
      size: Math.abs(coefficient) * meanSquare,
      g: 1 - 1 / overExpected(1 - tail, df),
      h: 1 / overExpected(tail, df) - 1,
    }));
  const positive = parts.filter(({ negative }) => !negative);
  const negative = parts.filter((part) => part.negative);
  if (negative.length > 1)
    throw new RangeError(
      `Cannot give an interval for ${negative.length} mean squares that count negatively; expected one at most`,
    );
  let below = 0;
  let above = 0;
  for (const { g, h, size, negative: isNegative } of parts) {
    below += ((isNegative ? h : g) * size) ** 2;
    above += ((isNegative ? g : h) * size) ** 2;
  }
  for (const minus of negative) {
    for (const plus of positive) {
      const [upper, lower] = [fisherQuantile(1 - tail, plus.df, minus.df), fisherQuantile(tail, plus.df, minus.df)];
      const product = plus.size * minus.size;
      below += (((upper - 1) ** 2 - (plus.g * upper) ** 2 - minus.h ** 2) / upper) * product;
      above += (((1 - lower) ** 2 - (plus.h * lower) ** 2 - minus.g ** 2) / lower) * product;
    }
    positive.forEach((one, at) => {
      for (const other of positive.slice(at + 1)) {
        const df = one.df + other.df;
        const joint = (1 - 1 / overExpected(1 - tail, df)) ** 2 * (df ** 2 / (one.df * other.df));
        const own = (one.g ** 2 * one.df) / other.df + (other.g ** 2 * other.df) / one.df;
        below += ((joint - own) / (positive.length - 1)) * one.size * other.size;
      }
    });
  }
  const estimate = parts.reduce((sum, { size, negative: isNegative }) => sum + (isNegative ? -size : size), 0);
  return {
    variance: Math.max(0, estimate),
    low: Math.max(0, estimate - Math.sqrt(Math.max(0, below))),
    high: Math.max(0, estimate + Math.sqrt(Math.max(0, above))),
  };
}

export interface GaugeAnovaOptions {
  /** Level of the intervals; default 0.95. */
  readonly level?: number;
  /**
   * What to do with the interaction of operator and part: keep it (default), count it as repeatability, or that only where
   * its F test has a p above 0.25 (the practice of measurement system analysis in manufacture, from memory).
   */
  readonly interaction?: 'keep' | 'pool' | 'pool where p > 0.25';
}

/**
 * Variance components of a gauge study by equating mean squares to their expectations: both factors random and crossed, every
 * operator reading every part equally often. Intervals by the modified large sample method, {@link varianceCombination}.
 *
 * @returns null where the readings are no such layout: fewer than 2 parts or operators, or cells that differ in number of
 *          readings or have one alone
 */
export function gaugeAnova(readings: GaugeReadings, options: GaugeAnovaOptions = {}): GaugeAnova | null {
  const { level = 0.95, interaction = 'keep' } = options;
  const layout = balancedLayout(readings);
  if (!layout) return null;
  const { cells, p, o, r } = layout;
  const squares = (values: readonly number[], about: number): number =>
    values.reduce((sum, value) => sum + (value - about) ** 2, 0);
  const cellMeans = cells.map((row) => row.map(mean));
  const partMeans = cellMeans.map(mean);
  const operatorMeans = Array.from({ length: o }, (_, j) => mean(cellMeans.map((row) => row[j]!)));
  const grand = mean(partMeans);
  const part = { df: p - 1, sum: o * r * squares(partMeans, grand) };
  const operator = { df: o - 1, sum: p * r * squares(operatorMeans, grand) };
  const crossed = {
    df: (p - 1) * (o - 1),
    sum:
      r *
      cellMeans
        .flatMap((row, i) => row.map((cell, j) => (cell - partMeans[i]! - operatorMeans[j]! + grand) ** 2))
        .reduce((sum, square) => sum + square, 0),
  };
  const within = {
    df: p * o * (r - 1),
    sum: cells.flatMap((row, i) => row.map((cell, j) => squares(cell, cellMeans[i]![j]!))).reduce((a, b) => a + b, 0),
  };
  const error = { df: crossed.df + within.df, sum: crossed.sum + within.sum };
  const crossedLine = anovaLine('interaction', crossed, within);
  const pooled = interaction === 'pool' || (interaction === 'pool where p > 0.25' && crossedLine.p! > 0.25);
  const against = pooled ? error : crossed;
  const table = [
    anovaLine('part', part, against),
    anovaLine('operator', operator, against),
    ...(pooled ? [] : [crossedLine]),
    anovaLine('repeatability', pooled ? error : within, null),
  ];
  const combined = (...coefficients: readonly number[]): VarianceEstimate =>
    varianceCombination(
      table.map((line, at) => ({ ...line, coefficient: coefficients[at]! })),
      level,
    );
  const none = { variance: 0, low: 0, high: 0 };
  const [n, pr, por] = [o * r, p * r, p * o * r];
  const components = pooled
    ? {
        part: combined(1 / n, 0, -1 / n),
        operator: combined(0, 1 / pr, -1 / pr),
        interaction: none,
        repeatability: combined(0, 0, 1),
        reproducibility: combined(0, 1 / pr, -1 / pr),
        gauge: combined(0, 1 / pr, 1 - 1 / pr),
        total: combined(1 / n, 1 / pr, 1 - 1 / n - 1 / pr),
      }
    : {
        part: combined(1 / n, 0, -1 / n, 0),
        operator: combined(0, 1 / pr, -1 / pr, 0),
        interaction: combined(0, 0, 1 / r, -1 / r),
        repeatability: combined(0, 0, 0, 1),
        reproducibility: combined(0, 1 / pr, (p - 1) / pr, -1 / r),
        gauge: combined(0, 1 / pr, (p - 1) / pr, (r - 1) / r),
        total: combined(p / por, o / por, (p * o - p - o) / por, (r - 1) / r),
      };
  return { table, pooled, components };
}

interface SumOfSquares {
  readonly df: number;
  readonly sum: number;
}

function anovaLine(source: AnovaLine['source'], { df, sum }: SumOfSquares, against: SumOfSquares | null): AnovaLine {
  const meanSquare = sum / df;
  const f = against === null ? null : meanSquare / (against.sum / against.df);
  const p = against === null || f === null ? null : 1 - fCdf(f, df, against.df);
  return { source, df, sumOfSquares: sum, meanSquare, f, p };
}

/** Readings by part and operator, where all cells have the same number of them, 2 or more. */
function balancedLayout({ values, operators, parts }: GaugeReadings) {
  const [partNames, operatorNames] = [[...new Set(parts)], [...new Set(operators)]];
  const [p, o] = [partNames.length, operatorNames.length];
  const partAt = new Map(partNames.map((name, at) => [name, at]));
  const operatorAt = new Map(operatorNames.map((name, at) => [name, at]));
  const cells = partNames.map(() => operatorNames.map((): number[] => []));
  for (let row = 0; row < values.length; row++)
    cells[partAt.get(parts[row]!)!]![operatorAt.get(operators[row]!)!]!.push(values[row]!);
  const r = cells[0]?.[0]?.length ?? 0;
  const isBalanced = cells.every((row) => row.every((cell) => cell.length === r));
  return isBalanced && p > 1 && o > 1 && r > 1 ? { cells, p, o, r } : null;
}
