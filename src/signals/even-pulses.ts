/** What is known of means over whole PWM periods before they are evened. */
export interface PulseMeans {
  readonly values: Float64Array
  /** Whether the bridge switched within each: a mean without an edge is right as it is. */
  readonly hasPulses: readonly boolean[]
  /** Means after which the samples lie at the same places of the pulses again. */
  readonly together: number
  /** What one sample more or less within the pulses changes. */
  readonly stepVolt: number
}

/** Further from its neighbours than so many samples' worth, a pulse is another one, not the same read otherwise. */
const ALIKE_STEPS = 2

/**
 * A pulse that lasts 2.53 sample intervals is read as two samples long or as three, in a pattern that comes
 * again with the samples' places; over one pattern the error is next to nil. Each mean is taken over the
 * pattern about it, before it or after it, whichever holds the most alike pulses, so that a step of the duty
 * stays a step; one that has none alike beside it stays as it is.
 */
export function evenPulses({ values, hasPulses, together, stepVolt }: PulseMeans): Float64Array {
  const evened = Float64Array.from(values)
  if (together < 2) return evened
  const before = together - 1
  for (let n = 0; n < values.length; n++) {
    if (!hasPulses[n]) continue
    let least = Number.POSITIVE_INFINITY
    for (const start of [n - (before >> 1), n - before, n]) {
      const pattern = patternFrom(start, { values, hasPulses, together, stepVolt })
      if (pattern === null || pattern.spread >= least) continue
      least = pattern.spread
      evened[n] = pattern.mean
    }
  }
  return evened
}

/** Null where it would reach over the ends, a pause of the bridge, or pulses that are not alike. */
function patternFrom(start: number, { values, hasPulses, together, stepVolt }: PulseMeans) {
  if (start < 0 || start + together > values.length) return null
  let sum = 0
  for (let i = start; i < start + together; i++) {
    if (!hasPulses[i]) return null
    sum += values[i]!
  }
  const mean = sum / together
  let spread = 0
  for (let i = start; i < start + together; i++) {
    const off = Math.abs(values[i]! - mean)
    if (off > ALIKE_STEPS * stepVolt) return null
    spread += off ** 2
  }
  return { mean, spread }
}
