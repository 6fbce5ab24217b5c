/** Arithmetic mean; NaN for no values. Two passes: the second takes off what rounding left over. */
export function mean(values: ArrayLike<number>): number {
  const n = values.length
  if (n === 0) return Number.NaN
  let sum = 0
  for (let i = 0; i < n; i++) sum += values[i]!
  const first = sum / n
  let rest = 0
  for (let i = 0; i < n; i++) rest += values[i]! - first
  return first + rest / n
}

/**
 * Experimental variance s² = Σ (x − x̄)² / (n − 1) (GUM 4.2.2); NaN for fewer than two values.
 * The corrected two-pass form of Chan, Golub and LeVeque (1983).
 */
export function variance(values: ArrayLike<number>): number {
  const n = values.length
  if (n < 2) return Number.NaN
  const centre = mean(values)
  let squares = 0
  let rest = 0
  for (let i = 0; i < n; i++) {
    const deviation = values[i]! - centre
    squares += deviation * deviation
    rest += deviation
  }
  return (squares - (rest * rest) / n) / (n - 1)
}

export function standardDeviation(values: ArrayLike<number>): number {
  return Math.sqrt(variance(values))
}

/** Autocorrelation at a lag: Σ (xᵢ − x̄)(xᵢ₊ₗ − x̄) / Σ (xᵢ − x̄)². NaN where nothing varies. */
export function autocorrelation(values: ArrayLike<number>, lag: number): number {
  const centre = mean(values)
  let products = 0
  let squares = 0
  for (let i = 0; i < values.length; i++) {
    const deviation = values[i]! - centre
    squares += deviation * deviation
    if (i + lag < values.length) products += deviation * (values[i + lag]! - centre)
  }
  return squares > 0 ? products / squares : Number.NaN
}

/** Experimental covariance of two equally long series, divisor n − 1; NaN for fewer than two pairs. */
export function covariance(a: ArrayLike<number>, b: ArrayLike<number>): number {
  if (a.length !== b.length) {
    throw new RangeError(`b.length = ${b.length}; must be a.length = ${a.length}`)
  }
  if (a.length < 2) return Number.NaN
  const centreA = mean(a)
  const centreB = mean(b)
  let sum = 0
  for (let i = 0; i < a.length; i++) sum += (a[i]! - centreA) * (b[i]! - centreB)
  return sum / (a.length - 1)
}
