/** Turns a minute in rad/s: speeds are read and rounded in these. */
const PER_MINUTE = (2 * Math.PI) / 60
/** Digits that any instrument shows of the largest reading, whether its zeros were written down or not. Common practice, no source. */
const FEWEST_DIGITS = 3
const MOST_DIGITS = 7
/** A multiple of a step is one to within so much of itself: numbers have been through a change of unit. */
const SAME = 1e-9

/**
 * To what the readings of a hand-read table were rounded: the coarsest power of ten of which all are multiples,
 * in SI or in turns a minute. 0 where there is none.
 */
export function readingStep(values: Float64Array): number {
  let largest = 0
  for (const value of values) if (Math.abs(value) > largest) largest = Math.abs(value)
  if (largest === 0) return 0
  for (let digits = FEWEST_DIGITS; digits <= MOST_DIGITS; digits++) {
    for (const unit of [1, PER_MINUTE]) {
      const step = unit * 10 ** (Math.floor(Math.log10(largest / unit)) + 1 - digits)
      if (values.every(value => Number.isNaN(value) || isMultiple(value / step))) return step
    }
  }
  return 0
}

const isMultiple = (steps: number): boolean =>
  Math.abs(steps - Math.round(steps)) <= SAME * Math.max(1, Math.abs(steps))
