/** Middle of the sorted values, mean of the two middle ones for an even count. NaN for none; NaN values are skipped. */
export function median(values: ArrayLike<number>): number {
  return quantileOf(values, 0.5)
}

/** Empirical quantile, linear between order statistics (Hyndman and Fan 1996, type 7). NaN values are skipped. */
export function quantileOf(values: ArrayLike<number>, probability: number): number {
  if (!(probability >= 0 && probability <= 1)) {
    throw new RangeError(`probability = ${probability}; must be from 0 to 1`)
  }
  const numbers = numbersOf(values)
  if (numbers.length === 0) return Number.NaN
  const place = probability * (numbers.length - 1)
  const below = Math.floor(place)
  const low = smallest(numbers, below)
  if (below === numbers.length - 1) return low
  // All that stand behind the place are at least as large: the least of them comes next.
  let high = numbers[below + 1]!
  for (let i = below + 2; i < numbers.length; i++) if (numbers[i]! < high) high = numbers[i]!
  return low + (place - below) * (high - low)
}

/** A copy without NaN. */
function numbersOf(values: ArrayLike<number>): Float64Array {
  const numbers = new Float64Array(values.length)
  let count = 0
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!
    if (!Number.isNaN(value)) numbers[count++] = value
  }
  return numbers.subarray(0, count)
}

/**
 * The value that would stand at `place` of the sorted values. Rearranges them so that none before the place is
 * larger and none behind it smaller: the work is proportional to their number, which that of sorting is not.
 * Source: C. A. R. Hoare, Algorithm 65: Find, Communications of the ACM 4 (1961) 321 (from memory).
 */
function smallest(values: Float64Array, place: number): number {
  let left = 0
  let right = values.length - 1
  while (left < right) {
    const pivot = middleOf(values[left]!, values[(left + right) >> 1]!, values[right]!)
    let i = left
    let j = right
    while (i <= j) {
      while (values[i]! < pivot) i++
      while (values[j]! > pivot) j--
      if (i > j) break
      const larger = values[i]!
      values[i++] = values[j]!
      values[j--] = larger
    }
    if (place <= j) right = j
    else if (place >= i) left = i
    else break
  }
  return values[place]!
}

/** In order or in reverse, the median of three ends and middle halves what is left. */
function middleOf(a: number, b: number, c: number): number {
  if (a < b) return b < c ? b : Math.max(a, c)
  return a < c ? a : Math.max(b, c)
}

/** 1/Φ⁻¹(3/4): makes the median absolute deviation estimate σ of normal data. */
const NORMAL_MAD_FACTOR = 1.482602218505602

/** Robust standard deviation: 1.4826 × median |x − median x|. */
export function medianAbsoluteDeviation(values: ArrayLike<number>): number {
  const centre = median(values)
  return NORMAL_MAD_FACTOR * median(Float64Array.from(values, value => Math.abs(value - centre)))
}

/**
 * Standard deviation of the white noise on a sampled signal, whatever slow course lies under it: robust scale
 * of the second differences xₙ₋₁ − 2xₙ + xₙ₊₁, whose variance is 6σ². Zero where the signal is smooth or
 * quantised coarser than its noise. At most `PROBES` places are looked at, spread evenly.
 */
export function whiteNoise(values: ArrayLike<number>): number {
  const n = values.length
  const stride = Math.max(1, Math.floor((n - 2) / PROBES))
  const differences: number[] = []
  for (let i = 1; i + 1 < n; i += stride) {
    const difference = values[i - 1]! - 2 * values[i]! + values[i + 1]!
    if (!Number.isNaN(difference)) differences.push(Math.abs(difference))
  }
  if (differences.length === 0) return 0
  return (NORMAL_MAD_FACTOR * median(differences)) / Math.sqrt(6)
}

const PROBES = 6_000
