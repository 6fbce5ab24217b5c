/** Lowest, mean and highest of consecutive equal buckets of samples. */
export interface Envelope {
  readonly low: Float64Array
  readonly mean: Float64Array
  readonly high: Float64Array
  /** Samples in each bucket that are not NaN. */
  readonly count: Float64Array
}

/** Summary of all values together; NaN where there is none. */
export interface Extent {
  readonly low: number
  readonly mean: number
  readonly high: number
  readonly count: number
}

/**
 * Envelope of `values` in buckets of `bucketSamples`, the last one shorter where they do not divide.
 * NaN is a gap: it takes no part; a bucket of nothing else is NaN.
 */
export function envelopeOf(values: Float64Array, bucketSamples: number): Envelope {
  if (!Number.isInteger(bucketSamples) || bucketSamples < 1) {
    throw new RangeError(`bucketSamples = ${bucketSamples}; must be an integer >= 1`)
  }
  const buckets = Math.ceil(values.length / bucketSamples)
  const envelope = {
    low: new Float64Array(buckets),
    mean: new Float64Array(buckets),
    high: new Float64Array(buckets),
    count: new Float64Array(buckets),
  }
  for (let b = 0; b < buckets; b++) {
    const extent = extentOf(
      values,
      b * bucketSamples,
      Math.min((b + 1) * bucketSamples, values.length),
    )
    envelope.low[b] = extent.low
    envelope.mean[b] = extent.mean
    envelope.high[b] = extent.high
    envelope.count[b] = extent.count
  }
  return envelope
}

/** Extent of `values[from]` up to but not including `values[to]`. */
export function extentOf(values: Float64Array, from = 0, to = values.length): Extent {
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  let sum = 0
  let count = 0
  for (let i = from; i < to; i++) {
    const value = values[i]!
    if (Number.isNaN(value)) continue
    if (value < low) low = value
    if (value > high) high = value
    sum += value
    count++
  }
  return count > 0
    ? { low, mean: sum / count, high, count }
    : { low: Number.NaN, mean: Number.NaN, high: Number.NaN, count: 0 }
}

/** The buckets of an envelope as one. */
export function mergeBuckets(envelope: Envelope): Extent {
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  let sum = 0
  let count = 0
  for (let b = 0; b < envelope.count.length; b++) {
    const n = envelope.count[b]!
    if (n === 0) continue
    low = Math.min(low, envelope.low[b]!)
    high = Math.max(high, envelope.high[b]!)
    sum += n * envelope.mean[b]!
    count += n
  }
  return count > 0
    ? { low, mean: sum / count, high, count }
    : { low: Number.NaN, mean: Number.NaN, high: Number.NaN, count: 0 }
}
