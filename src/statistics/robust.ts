/** Middle of the sorted values, mean of the two middle ones for an even count. NaN for none; NaN values are skipped. */
export function median(values: ArrayLike<number>): number {
  return quantileOf(values, 0.5)
}

/** Empirical quantile, linear between order statistics (Hyndman and Fan 1996, type 7). NaN values are skipped. */
export function quantileOf(values: ArrayLike<number>, probability: number): number {
  if (!(probability >= 0 && probability <= 1)) {
    throw new RangeError(`probability = ${probability}; must be from 0 to 1`)
  }
  const sorted = Float64Array.from(values)
    .filter(value => !Number.isNaN(value))
    .sort()
  if (sorted.length === 0) return Number.NaN
  const place = probability * (sorted.length - 1)
  const below = Math.floor(place)
  const above = Math.min(below + 1, sorted.length - 1)
  return sorted[below]! + (place - below) * (sorted[above]! - sorted[below]!)
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
