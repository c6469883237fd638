/**
 * Where a convex function is least between two points, to within `precision`, by golden-section search (Kiefer 1953, Proc. Am.
 * Math. Soc. 4, 502).
 */
export function goldenSection(cost: (at: number) => number, from: number, to: number, precision: number): number {
  const golden = (Math.sqrt(5) - 1) / 2;
  let [low, high] = [from, to];
  let [left, right] = [high - golden * (high - low), low + golden * (high - low)];
  let [atLeft, atRight] = [cost(left), cost(right)];
  while (high - low > precision) {
    if (atLeft <= atRight) {
      [high, right, atRight] = [right, left, atLeft];
      left = high - golden * (high - low);
      atLeft = cost(left);
    } else {
      [low, left, atLeft] = [left, right, atRight];
      right = low + golden * (high - low);
      atRight = cost(right);
    }
  }
  return (low + high) / 2;
}
