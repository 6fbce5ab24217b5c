/** Index of the first of rising times at or after a moment, by halving; their number where there is none. */
export function firstAtOrAfter(timeSec: Float64Array, sec: number): number {
  let low = 0
  let high = timeSec.length
  while (low < high) {
    const middle = (low + high) >> 1
    if (timeSec[middle]! < sec) low = middle + 1
    else high = middle
  }
  return low
}
