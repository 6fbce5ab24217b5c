import { mean, standardDeviation } from '../statistics/describe.ts'
import { chiSquareP, normalProbability, normalQuantile } from '../statistics/distributions.ts'

/**
 * Factors k of statistical tolerance intervals of normal data with unknown mean and spread: x̄ ± k s holds
 * at least the share `coverage` of the population with the confidence `confidence`. Exact, by integration.
 * Source: definitions of ISO 16269-6; H. E. Solomon-type integral over the sample mean, e.g. G. J. Hahn and
 * W. Q. Meeker, Statistical Intervals (1991). Checked in test/quality against tabled factors.
 */
export function twoSidedToleranceFactor(
  count: number,
  coverage: number,
  confidence: number,
): number {
  check(count, coverage, confidence)
  const freedom = count - 1
  const steps = 400
  const farthest = 6 / Math.sqrt(count)
  // Half-width r that holds the coverage when the sample mean is off by z sigmas; the same for every k.
  const halfWidths = Array.from({ length: steps + 1 }, (_, i) =>
    halfWidth((i * farthest) / steps, coverage),
  )
  const achieved = (k: number) =>
    2 *
    simpson(steps, farthest, i => {
      const z = (i * farthest) / steps
      const density = Math.sqrt(count / (2 * Math.PI)) * Math.exp((-count * z * z) / 2)
      return density * chiSquareP((freedom * halfWidths[i]! ** 2) / (k * k), freedom)
    })
  return bisect(k => achieved(k) - confidence, 0.1, 200)
}

/** Factor of a one-sided limit x̄ + k s: a quantile of noncentral t over √n. */
export function oneSidedToleranceFactor(
  count: number,
  coverage: number,
  confidence: number,
): number {
  check(count, coverage, confidence)
  const freedom = count - 1
  const z = normalQuantile(coverage)
  // P(k s ≥ z σ − (x̄ − μ)) over the distribution of the sample mean.
  const achieved = (k: number) => {
    const steps = 800
    const farthest = 8 / Math.sqrt(count)
    return simpson(steps, 2 * farthest, i => {
      const offset = -farthest + (2 * farthest * i) / steps
      const density = Math.sqrt(count / (2 * Math.PI)) * Math.exp((-count * offset * offset) / 2)
      const needed = z - offset
      return needed <= 0
        ? density
        : density * chiSquareP((freedom * needed * needed) / (k * k), freedom)
    })
  }
  return bisect(k => achieved(k) - confidence, 0.01, 200)
}

export interface ToleranceInterval {
  readonly lower: number
  readonly upper: number
  readonly factor: number
  readonly coverage: number
  readonly confidence: number
}

export function toleranceInterval(
  values: readonly number[],
  coverage = 0.95,
  confidence = 0.95,
): ToleranceInterval {
  const factor = twoSidedToleranceFactor(values.length, coverage, confidence)
  const centre = mean(values)
  const reach = factor * standardDeviation(values)
  return { lower: centre - reach, upper: centre + reach, factor, coverage, confidence }
}

/** r with Φ(z + r) − Φ(z − r) = coverage. */
function halfWidth(z: number, coverage: number): number {
  return bisect(r => normalProbability(z + r) - normalProbability(z - r) - coverage, 0, 40)
}

function simpson(steps: number, span: number, f: (i: number) => number): number {
  let sum = f(0) + f(steps)
  for (let i = 1; i < steps; i++) sum += (i % 2 === 1 ? 4 : 2) * f(i)
  return (sum * span) / steps / 3
}

/** Root of a rising function. */
function bisect(f: (x: number) => number, from: number, to: number): number {
  let low = from
  let high = to
  while (high - low > 1e-10 * Math.max(1, high)) {
    const middle = (low + high) / 2
    if (f(middle) < 0) low = middle
    else high = middle
  }
  return (low + high) / 2
}

function check(count: number, coverage: number, confidence: number): void {
  if (!(Number.isInteger(count) && count >= 2))
    throw new RangeError(`count = ${count}; must be a whole number >= 2`)
  for (const [name, value] of [
    ['coverage', coverage],
    ['confidence', confidence],
  ] as const) {
    if (!(value > 0 && value < 1))
      throw new RangeError(`${name} = ${value}; must be between 0 and 1`)
  }
}
