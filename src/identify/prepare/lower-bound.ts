/** First index whose time is not before `moment`. */
export function lowerBound(time: Float64Array, moment: number): number {
  let low = 0
  let high = time.length
  while (low < high) {
    const middle = (low + high) >> 1
    if (time[middle]! < moment) low = middle + 1
    else high = middle
  }
  return low
}
