import { combineEstimates, type Estimate } from '../statistics/weighted-mean.ts'
import type { StallPoint } from './stall-points.ts'

/** Heating is believed when it stands out of its uncertainty by this factor … */
const CERTAIN = 4
/** … and moves the resistance by more than this share over the run. */
const WORTH = 5e-4
/** Cooling between pulses is not known: heat is kept over the whole run, or lost with one of these times. */
const COOLING_SEC = [Number.POSITIVE_INFINITY, 100, 30, 10, 3, 1]

/**
 * Courses that R/R_cold may have taken over the points of a run: all ones where no heating shows; else one for
 * each way of cooling between the pulses, for the caller to choose by its residuals. Within each level the
 * drift of v/i against the energy put in gives the rise per joule.
 */
export function stallWarmth(points: readonly StallPoint[]): number[][] {
  const perJoule = risePerJoule(points)
  if (perJoule === 0) return [points.map(() => 1)]
  return COOLING_SEC.map(coolingSec => course(points, perJoule, coolingSec))
}

/** Pooled over the levels: (v′/v − i′/i)/P, the relative rise of v/i per joule while a level lasts. */
function risePerJoule(points: readonly StallPoint[]): number {
  const each = points.flatMap(({ level, voltage, current }): Estimate[] => {
    if (!(level.durationSec > 0)) return []
    const power = voltage * current
    const drift = level.voltage!.slopePerSec / voltage - level.current!.slopePerSec / current
    // A straight line over a stretch knows its slope √12 times worse than its mean, per length.
    const relative = Math.hypot(
      level.voltage!.standardUncertainty / voltage,
      level.current!.standardUncertainty / current,
    )
    return [
      {
        value: drift / power,
        standardUncertainty: (relative * Math.sqrt(12)) / level.durationSec / power,
        degreesOfFreedom: Number.POSITIVE_INFINITY,
      },
    ]
  })
  if (each.length === 0) return 0
  const { value, standardUncertainty } = combineEstimates(each)
  const largest = Math.max(...points.map(point => point.energyJoule))
  return value > CERTAIN * standardUncertainty && value * largest > WORTH ? value : 0
}

/** R/R_cold at each point, the heat of earlier pulses dying away with `coolingSec`. */
function course(points: readonly StallPoint[], perJoule: number, coolingSec: number): number[] {
  let kept = 0
  return points.map((point, i) => {
    const before = points[i - 1]
    const put = point.energyJoule - (before?.energyJoule ?? 0)
    const wait = before ? point.level.middleSec! - before.level.middleSec! : 0
    kept = kept * Math.exp(-wait / coolingSec) + put
    return 1 + perJoule * kept
  })
}
