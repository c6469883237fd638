/** A sum carried to about 32 digits as `high + low`; mutable, for inner loops. */
export interface LongSum {
  high: number;
  low: number;
}

const splitter = 2 ** 27 + 1;

/**
 * Adds `a b` to the sum, the product's rounding error included.
 * Dekker (1971), Numerische Mathematik 18, 224-242; Ogita, Rump & Oishi (2005), SIAM J. Sci. Comput. 26, 1955-1988.
 */
export function addProduct(sum: LongSum, a: number, b: number): void {
  const product = a * b;
  const [ca, cb] = [splitter * a, splitter * b];
  const ah = ca - (ca - a);
  const bh = cb - (cb - b);
  const [al, bl] = [a - ah, b - bh];
  const error = al * bl - (product - ah * bh - al * bh - ah * bl);
  const total = sum.high + product;
  const part = total - sum.high;
  sum.low += sum.high - (total - part) + (product - part) + error;
  sum.high = total;
}
