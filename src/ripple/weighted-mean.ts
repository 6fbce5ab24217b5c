/** Of values with weights that are not all nil. */
export function weightedMean(values: ArrayLike<number>, weights: ArrayLike<number>): number {
  let [sum, all] = [0, 0]
  for (let k = 0; k < values.length; k++) {
    sum += weights[k]! * values[k]!
    all += weights[k]!
  }
  return sum / all
}
