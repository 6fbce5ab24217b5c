import { autocorrelationTime } from '../statistics/autocorrelation-time.ts'
import type { RippleTrack, TrackedStretch } from './track-ripple.ts'

/** Speed of the shaft over a time, with its uncertainty from the ripple alone. */
export interface MeanSpeed {
  readonly radPerSec: number
  readonly standardUncertainty: number
  /** Commutations that passed in that time. */
  readonly ripples: number
  readonly fromSec: number
  readonly toSec: number
}

const TURN = 2 * Math.PI
const FEWEST_POINTS = 4
/**
 * Brushes, uneven segments and what is left of the switching move the phase slowly, unseen in its scatter: by this part of
 * a ripple at either end. From seeded cases, test/studies/ripple-speed.md: with it the stated uncertainties hold.
 */
const SLOW_PHASE = 0.005

/**
 * Mean speed between two moments, as far as one stretch covers them: slope of the straight line through the shaft's
 * angle at points a window apart. Its uncertainty comes from their scatter about the line (so it holds wander of the speed
 * too), at least what the phases' own scatter gives, and from `SLOW_PHASE`. Null where no stretch covers enough of that time.
 */
export function meanSpeed(track: RippleTrack, fromSec: number, toSec: number): MeanSpeed | null {
  const toSample = (sec: number) => (sec - track.firstSec) * track.rateHz
  let best: { stretch: TrackedStretch; from: number; to: number } | null = null
  for (const stretch of track.stretches) {
    const from = Math.max(stretch.start, Math.ceil(toSample(fromSec)))
    const to = Math.min(stretch.end, Math.floor(toSample(toSec)))
    if (to > from && (best === null || to - from > best.to - best.from))
      best = { stretch, from, to }
  }
  if (best === null) return null
  const { stretch, from, to } = best
  const spacing = Math.max(1, Math.round(stretch.windowSamples / 2))
  const count = Math.floor((to - from) / spacing) + 1
  if (count < FEWEST_POINTS) return null
  const angle = (k: number) => stretch.turns[from - stretch.start + k * spacing]!
  const middle = (count - 1) / 2
  let products = 0
  let squares = 0
  let mean = 0
  for (let k = 0; k < count; k++) {
    products += (k - middle) * angle(k)
    squares += (k - middle) ** 2
    mean += angle(k) / count
  }
  const slope = products / squares
  const residuals = Float64Array.from(
    { length: count },
    (_, k) => angle(k) - mean - slope * (k - middle),
  )
  const residual = residuals.reduce((sum, value) => sum + value * value, 0)
  // Two points make one independent window; angles that wander do so over longer than that.
  const together = Math.max(2, autocorrelationTime(residuals))
  const scatter = Math.sqrt((together * residual) / Math.max(1, count - 2))
  const sigma = Math.max(scatter, stretch.angleUncertainty * Math.SQRT2)
  const perSecond = track.rateHz / spacing
  return {
    radPerSec: stretch.sign * TURN * slope * perSecond,
    standardUncertainty: Math.hypot(
      (TURN * sigma * perSecond) / Math.sqrt(squares),
      (TURN * Math.SQRT2 * SLOW_PHASE * track.rateHz) / (track.comb.ripplesPerTurn * (to - from)),
    ),
    ripples: Math.abs(slope * (count - 1)) * track.comb.ripplesPerTurn,
    fromSec: track.firstSec + from / track.rateHz,
    toSec: track.firstSec + to / track.rateHz,
  }
}
