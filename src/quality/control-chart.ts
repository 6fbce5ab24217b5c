import { mean, standardDeviation } from '../statistics/describe.ts'
import { rangeConstants } from './range-constants.ts'

/** One chart: points, centre line and limits. Limits are one a point where they change along the chart. */
export interface ControlChart {
  readonly name: 'individuals' | 'moving-range' | 'mean' | 'range' | 'ewma'
  readonly points: readonly number[]
  readonly centre: number
  readonly lower: readonly number[]
  readonly upper: readonly number[]
  /** Standard deviation of one point, by which the run rules count. */
  readonly sigma: number
}

/** Fewest values from which limits may be drawn. Common practice asks for 20 or more (no source). */
export const FEWEST_CHART_POINTS = 3

/**
 * Individuals chart with its moving-range chart (ranges of neighbouring two):
 *   x̄ ± 3 MR̄/d2,  upper limit of the range D4 MR̄.
 * Source: NIST/SEMATECH e-Handbook 6.3.2.2; ISO 7870-2.
 */
export function individualsCharts(values: readonly number[]): {
  individuals: ControlChart
  movingRange: ControlChart
} {
  requirePoints(values.length)
  const ranges = values.slice(1).map((value, i) => Math.abs(value - values[i]!))
  const { d2, d3 } = rangeConstants(2)
  const meanRange = mean(ranges)
  const sigma = meanRange / d2
  const centre = mean(values)
  return {
    individuals: chart('individuals', values, centre, sigma, 3 * sigma),
    movingRange: rangeChart('moving-range', ranges, meanRange, d2, d3),
  }
}

/**
 * Mean and range charts of equal subgroups: x̿ ± 3 R̄/(d2 √n), D3 R̄ and D4 R̄.
 * Source: D. C. Montgomery, Introduction to Statistical Quality Control; ISO 7870-2.
 */
export function meanAndRangeCharts(groups: readonly (readonly number[])[]): {
  mean: ControlChart
  range: ControlChart
  /** R̄/d2: spread within subgroups. */
  withinSigma: number
} {
  requirePoints(groups.length)
  const size = groups[0]!.length
  const odd = groups.findIndex(group => group.length !== size)
  if (odd >= 0) {
    throw new RangeError(
      `groups[${odd}].length = ${groups[odd]!.length}; must be ${size} as the first`,
    )
  }
  const { d2, d3 } = rangeConstants(size)
  const means = groups.map(group => mean(group))
  const ranges = groups.map(group => Math.max(...group) - Math.min(...group))
  const meanRange = mean(ranges)
  const withinSigma = meanRange / d2
  const sigma = withinSigma / Math.sqrt(size)
  return {
    mean: chart('mean', means, mean(means), sigma, 3 * sigma),
    range: rangeChart('range', ranges, meanRange, d2, d3),
    withinSigma,
  }
}

/**
 * Exponentially weighted moving average, z_t = λ x_t + (1 − λ) z_{t−1}, about a target, with its final limits
 *   target ± L σ √(λ/(2 − λ)).
 * `sigma` is that of one value. Source: NIST/SEMATECH e-Handbook 6.3.2.4.
 */
export function ewmaChart(
  values: readonly number[],
  target: number,
  sigma: number,
  options: { lambda: number; limitSigmas: number } = { lambda: 0.3, limitSigmas: 3 },
): ControlChart {
  let smooth = target
  const points = values.map(value => {
    smooth = options.lambda * value + (1 - options.lambda) * smooth
    return smooth
  })
  const ownSigma = sigma * Math.sqrt(options.lambda / (2 - options.lambda))
  return chart('ewma', points, target, ownSigma, options.limitSigmas * ownSigma)
}

/** Spread of all values together; the overall sigma of performance indices. */
export const overallSigma = (values: readonly number[]): number => standardDeviation(values)

function chart(
  name: ControlChart['name'],
  points: readonly number[],
  centre: number,
  sigma: number,
  halfWidth: number,
): ControlChart {
  return {
    name,
    points,
    centre,
    sigma,
    lower: points.map(() => centre - halfWidth),
    upper: points.map(() => centre + halfWidth),
  }
}

function rangeChart(
  name: 'moving-range' | 'range',
  ranges: readonly number[],
  meanRange: number,
  d2: number,
  d3: number,
): ControlChart {
  const sigma = (meanRange * d3) / d2
  return {
    name,
    points: ranges,
    centre: meanRange,
    sigma,
    lower: ranges.map(() => Math.max(0, meanRange - 3 * sigma)),
    upper: ranges.map(() => meanRange + 3 * sigma),
  }
}

function requirePoints(count: number): void {
  if (count < FEWEST_CHART_POINTS) {
    throw new RangeError(`points = ${count}; must be at least ${FEWEST_CHART_POINTS}`)
  }
}
