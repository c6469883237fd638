import type { BlockSums } from '../sources/block-sums.ts';
import type { ContrastRows } from './contrast-rows.ts';

/** Standard deviations, in cents, of what differs between instruments, between strings of one instrument, and between readings. */
export interface Spread {
  /** b: rise shared by all strings of an instrument. */
  readonly instrumentRise: number;
  /** c: rise of one string of an instrument. */
  readonly stringRise: number;
  /** a: nut offset of one string of an instrument. */
  readonly stringNut: number;
  /** e: one reading. */
  readonly reading: number;
}

/** Readings that scatter by fewer cents than this about the model were computed, not measured. */
export const finestScatter = 1e-3;

/** Sums of squares and products over the projected rows of one string of one instrument: covariates rise (r) and nut (n), residual y. */
export interface StringMoments {
  readonly string: number;
  readonly rows: number;
  readonly rr: number;
  readonly rn: number;
  readonly nn: number;
  readonly ry: number;
  readonly ny: number;
  readonly yy: number;
}

/**
 * Sums the residual rows by instrument and string.
 *
 * @param residual per row: response less the model's expectation (nut, rise and technician)
 * @returns per instrument, its strings in the order of the sums
 */
export function stringMoments(sums: BlockSums, rows: ContrastRows, residual: ArrayLike<number>): StringMoments[][] {
  const moments = sums.instruments.map(() => new Map<number, { -readonly [key in keyof StringMoments]: number }>());
  for (let row = 0; row < rows.block.length; row++) {
    const block = rows.block[row]!;
    const string = sums.blockString[block]!;
    const strings = moments[sums.blockInstrument[block]!]!;
    const sum = strings.get(string) ?? { string, rows: 0, rr: 0, rn: 0, nn: 0, ry: 0, ny: 0, yy: 0 };
    strings.set(string, sum);
    const [r, n, y] = [rows.rise[row]!, rows.nut[row]!, residual[row]!];
    sum.rows++;
    sum.rr += r * r;
    sum.rn += r * n;
    sum.nn += n * n;
    sum.ry += r * y;
    sum.ny += n * y;
    sum.yy += y * y;
  }
  return moments.map((strings) => [...strings.values()]);
}

/**
 * Solves `(se^2 I + D X'X) k = D v` for the covariates X = (r, n) and `D = diag(riseVariance, sa^2)`: with `v = X'y` the
 * modes of a string's rise and nut offset, and the inner part of the Woodbury identity.
 */
export function stringModes(
  moments: StringMoments,
  spread: Spread,
  riseVariance: number,
  v: { readonly r: number; readonly n: number } = { r: moments.ry, n: moments.ny },
): { readonly rise: number; readonly nut: number } {
  const noise = spread.reading ** 2;
  const nutVariance = spread.stringNut ** 2;
  const [a, b] = [noise + riseVariance * moments.rr, riseVariance * moments.rn];
  const [c, d] = [nutVariance * moments.rn, noise + nutVariance * moments.nn];
  const determinant = a * d - b * c;
  return {
    rise: (d * riseVariance * v.r - b * nutVariance * v.n) / determinant,
    nut: (a * nutVariance * v.n - c * riseVariance * v.r) / determinant,
  };
}

/** Squares of y left after regression on r and n, and the rank of that regression. */
export function leftOver({ rr, rn, nn, ry, ny, yy }: StringMoments): { squares: number; rank: number } {
  if (rr <= 1e-9) return { squares: yy, rank: 0 };
  const afterRise = Math.max(0, yy - ry ** 2 / rr);
  const nutAlone = nn - rn ** 2 / rr;
  // With readings at two frets alone the nut's rows are a multiple of the rise's.
  if (nutAlone <= 1e-9 * nn) return { squares: afterRise, rank: 1 };
  return { squares: Math.max(0, afterRise - (ny - (rn * ry) / rr) ** 2 / nutAlone), rank: 2 };
}
