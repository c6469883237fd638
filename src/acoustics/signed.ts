/**
 * A number with its sign and so many decimals, `+3.2` or `−0.4`; what rounds to zero has no sign: `0.0`.
 *
 * @param minus a minus sign, or `-` for plain text
 */
export function signed(value: number, decimals = 1, minus: '−' | '-' = '−'): string {
  const size = Math.abs(value).toFixed(decimals);
  return Number(size) === 0 ? size : `${value < 0 ? minus : '+'}${size}`;
}
