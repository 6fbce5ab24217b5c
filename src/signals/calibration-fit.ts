import { failure, type Result, success } from '../base/result.ts'
import { lineWithBothErrors } from '../statistics/straight-line.ts'
import type { CalibrationLine } from './calibration.ts'

/** One comparison of a channel with a reference instrument, in the channel's SI unit. */
export interface ComparisonPoint {
  readonly reference: number
  /** Standard uncertainty of that reading of the instrument. */
  readonly referenceUncertainty: number
  /** What the channel read by the rig's own declaration, and the standard uncertainty of that mean. */
  readonly reading: number
  readonly readingUncertainty: number
}

export interface CalibrationFit extends CalibrationLine {
  /** Largest distance of a point from the line, in the channel's unit, and over its standard uncertainty. */
  readonly worst: number
  readonly worstInUncertainties: number
}

/** The points must reach over at least this many of their standard uncertainties to tell a gain. */
const LEAST_REACH = 20

/**
 * Straight line through two or more comparisons, errors on both sides:
 *   reading = zero + reference/gain
 * @param instrumentGainUncertainty relative standard uncertainty of the instrument's own gain, which no number
 *   of points averages out
 */
export function fitCalibration(
  points: readonly ComparisonPoint[],
  instrumentGainUncertainty: number,
): Result<CalibrationFit, string> {
  if (points.length < 2)
    return failure(`${points.length} point: a straight line needs two or more, well apart`)
  const references = points.map(p => p.reference)
  const reach = Math.max(...references) - Math.min(...references)
  const blur = Math.max(
    ...points.map(p => Math.hypot(p.referenceUncertainty, p.readingUncertainty)),
  )
  if (!(reach > LEAST_REACH * blur)) {
    return failure(
      'the points lie too close together for their uncertainty: take them at the ends of the range',
    )
  }
  const line = lineWithBothErrors(
    references,
    points.map(p => p.reading),
    points.map(p => p.referenceUncertainty),
    points.map(p => p.readingUncertainty),
  )
  if (!line.ok) return failure(`no straight line through these points (${line.error})`)
  const { intercept, slope, interceptUncertainty, slopeUncertainty } = line.value
  if (!(Math.abs(slope) > 0)) return failure('the channel does not follow the reference at all')
  // More scatter than the stated uncertainties is taken as what it is.
  const excess = Math.max(
    1,
    Math.sqrt(line.value.chiSquare / Math.max(1, line.value.degreesOfFreedom)),
  )
  const distances = points.map(p => ({
    away: Math.abs(p.reading - intercept - slope * p.reference),
    sigma: Math.hypot(p.readingUncertainty, slope * p.referenceUncertainty),
  }))
  const worst = distances.reduce((a, b) => (b.away > a.away ? b : a))
  return success({
    gain: 1 / slope,
    zero: intercept,
    gainUncertainty: Math.hypot(
      (excess * slopeUncertainty) / Math.abs(slope),
      instrumentGainUncertainty,
    ),
    zeroUncertainty: excess * interceptUncertainty,
    worst: worst.away,
    worstInUncertainties: worst.sigma > 0 ? worst.away / worst.sigma : 0,
  })
}
