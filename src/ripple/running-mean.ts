/** Means over so many values to either side, fewer at the ends. */
export function runningMean(values: Float64Array, half: number): Float64Array {
  const sums = new Float64Array(values.length + 1)
  for (let i = 0; i < values.length; i++) sums[i + 1] = sums[i]! + values[i]!
  const means = new Float64Array(values.length)
  for (let i = 0; i < values.length; i++) {
    const from = Math.max(0, i - half)
    const to = Math.min(values.length, i + half + 1)
    means[i] = (sums[to]! - sums[from]!) / (to - from)
  }
  return means
}
