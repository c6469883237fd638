import { normalRandom } from '../random.ts';
import type { EwmaOptions } from './ewma.ts';
import type { RunRule } from './run-rules.ts';

/** What ends a run: values by rules, the average by limits, or whichever comes first. */
export interface ChartScheme {
  /** Western Electric rules on the values, {@link RunRule}. */
  readonly rules?: readonly RunRule[];
  readonly ewma?: Pick<EwmaOptions, 'lambda' | 'width' | 'limits'>;
}

export interface RunLengthOptions {
  /** Distance of the true mean from the centre line, in sigma, from the first value on. */
  readonly shift: number;
  readonly seed: number;
  /** Number of runs; default 10 000. */
  readonly runs?: number;
}

/** Mean number of values up to and with the first signal, with its standard error. */
export interface AverageRunLength {
  readonly mean: number;
  readonly standardError: number;
}

/** Longer runs are counted as this long. */
const longest = 100_000;

/**
 * Average run length of a chart by simulation: how many independent normal values until it signals. At shift 0 the signal is a
 * false alarm, and the length should be long; at the shift that matters, short.
 *
 * @throws {RangeError} when the scheme has neither rules nor an EWMA
 */
export function averageRunLength(scheme: ChartScheme, options: RunLengthOptions): AverageRunLength {
  const { shift, seed, runs = 10_000 } = options;
  if (!scheme.ewma && !scheme.rules?.length)
    throw new RangeError('Cannot run a chart that never signals; expected rules or an EWMA');
  const normal = normalRandom(seed);
  let [sum, squares] = [0, 0];
  for (let run = 0; run < runs; run++) {
    const length = runLength(scheme, () => normal() + shift);
    sum += length;
    squares += length * length;
  }
  const mean = sum / runs;
  return { mean, standardError: Math.sqrt((squares / runs - mean * mean) / runs) };
}

/** One run. The rules look at the last eight values at most, kept as counts of bits: a bit for each value beyond a line. */
function runLength({ rules = [], ewma }: ChartScheme, draw: () => number): number {
  const beyond = { high: [0, 0, 0, 0], low: [0, 0, 0, 0] };
  const { lambda = 1, width = Infinity, limits = 'varying' } = ewma ?? {};
  let [average, left] = [0, 1];
  for (let length = 1; length < longest; length++) {
    const value = draw();
    if (ewma) {
      average += lambda * (value - average);
      left *= (1 - lambda) ** 2;
      const settled = limits === 'steady' ? 1 : 1 - left;
      if (Math.abs(average) > width * Math.sqrt((lambda / (2 - lambda)) * settled)) return length;
    }
    for (let sigma = 0; sigma < 4; sigma++) {
      beyond.high[sigma] = ((beyond.high[sigma]! << 1) | (value > sigma ? 1 : 0)) & 0xff;
      beyond.low[sigma] = ((beyond.low[sigma]! << 1) | (value < -sigma ? 1 : 0)) & 0xff;
    }
    if (rules.some((rule) => isMet(rule, beyond.high) || isMet(rule, beyond.low))) return length;
  }
  return longest;
}

/** Whether a rule is met by the newest value and those before it; `bits[s]` has the newest value beyond s sigma in bit 0. */
function isMet(rule: RunRule, bits: readonly number[]): boolean {
  switch (rule) {
    case 1:
      return (bits[3]! & 1) === 1;
    case 2:
      return (bits[2]! & 1) === 1 && ones(bits[2]! & 0b111) >= 2;
    case 3:
      return (bits[1]! & 1) === 1 && ones(bits[1]! & 0b11111) >= 4;
    case 4:
      return bits[0] === 0xff;
  }
}

function ones(bits: number): number {
  let count = 0;
  for (let rest = bits; rest > 0; rest >>= 1) count += rest & 1;
  return count;
}
