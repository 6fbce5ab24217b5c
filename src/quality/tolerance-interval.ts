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
  const steps = 120
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
  return rootOf(k => achieved(k) - confidence, ...bracket(k => achieved(k) - confidence))
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
    const steps = 240
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
  return rootOf(k => achieved(k) - confidence, ...bracket(k => achieved(k) - confidence))
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
  return rootOf(r => normalProbability(z + r) - normalProbability(z - r) - coverage, 0, 12)
}

/** Two factors, the larger at most twice the smaller, between which a rising function has its root. */
function bracket(f: (k: number) => number): [number, number] {
  let high = 1
  while (f(high) < 0 && high < 1e6) high *= 2
  let low = high / 2
  while (high === 1 && f(low) > 0 && low > 1e-6) low /= 2
  return [low, Math.max(high, 2 * low)]
}

function simpson(steps: number, span: number, f: (i: number) => number): number {
  let sum = f(0) + f(steps)
  for (let i = 1; i < steps; i++) sum += (i % 2 === 1 ? 4 : 2) * f(i)
  return (sum * span) / steps / 3
}

/** Root of a rising function by the Illinois form of false position; between `from` and `to`. */
function rootOf(f: (x: number) => number, from: number, to: number): number {
  let low = { x: from, y: f(from) }
  let high = { x: to, y: f(to) }
  let kept = 0
  for (let step = 0; step < 200; step++) {
    const x = (low.x * high.y - high.x * low.y) / (high.y - low.y)
    const y = f(x)
    if (Math.abs(y) < 1e-13 || high.x - low.x < 1e-12 * Math.max(1, high.x)) return x
    if (y < 0) {
      low = { x, y }
      if (kept === -1) high = { x: high.x, y: high.y / 2 }
      kept = -1
    } else {
      high = { x, y }
      if (kept === 1) low = { x: low.x, y: low.y / 2 }
      kept = 1
    }
  }
  return (low.x + high.x) / 2
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
