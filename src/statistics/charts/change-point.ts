/**
 * Place of the first value after a lasting shift of the mean, given that a chart has signalled at the last value: the place t that
 * maximises `(T - t) (mean of values from t on - target)^2`, by maximum likelihood for normal values with known target.
 *
 * @param values in order of time, the last one being that of the signal; at least one
 * @returns place from 0
 * @see Samuel, Pignatiello & Calvin (1998), Qual. Eng. 10, 521-527 (from memory)
 */
export function changePoint(values: readonly number[], target: number): number {
  let [best, place, sum] = [-1, values.length - 1, 0];
  for (let at = values.length - 1; at >= 0; at--) {
    sum += values[at]! - target;
    const likelihood = sum ** 2 / (values.length - at);
    if (likelihood > best) [best, place] = [likelihood, at];
  }
  return place;
}
