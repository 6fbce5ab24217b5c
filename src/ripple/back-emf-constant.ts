import type { RunSignals } from '../signals/run-signals.ts'
import type { RippleTrack, TrackedStretch } from './track-ripple.ts'

/** Back-EMF constant that the ripple alone tells, V s/rad, for the count of ripples a turn that it was followed with. */
export interface RippleConstant {
  readonly value: number
  /** Null where what the current drops on its way is known only roughly. */
  readonly standardUncertainty: number | null
  /** `open-terminals`: voltage over speed while it coasts; `levels`: v − R i at the levels of speed. */
  readonly from: 'open-terminals' | 'levels'
}

/** Two levels tell the slope if one is above the other by this factor. */
const LEVELS_APART = 1.3

/**
 * With open terminals k = ∫v dt/φ, exactly: no current flows, nothing drops. Stretches count by their own certainty, which
 * is that of the angle φ and of the voltage's zero; its gain is common to all. Otherwise the levels' slope, where there
 * are two (a drop that was not allowed for falls out), or the one level.
 */
export function constantFromRipple(
  { voltage }: RunSignals,
  track: RippleTrack,
): RippleConstant | null {
  if (voltage === null || !track.directionKnown) return null
  const open = track.stretches.filter(stretch => stretch.terminals === 'open')
  const { gainUncertainty, zeroUncertainty } = voltage.traits
  let [weights, sum] = [0, 0]
  for (const stretch of open) {
    const found = overStretch(voltage.values, stretch, track.rateHz)
    if (found === null) continue
    const { value, seconds, angle } = found
    const relative = Math.hypot(
      (2 * Math.PI * Math.SQRT2 * stretch.angleUncertainty) / angle,
      (zeroUncertainty * seconds) / (value * angle),
    )
    const weight = 1 / (relative * value) ** 2
    weights += weight
    sum += weight * value
  }
  if (weights > 0) {
    const value = sum / weights
    return {
      value,
      standardUncertainty: Math.hypot(1 / Math.sqrt(weights), gainUncertainty * value),
      from: 'open-terminals',
    }
  }
  return { value: fromLevels(track), standardUncertainty: null, from: 'levels' }
}

function overStretch(
  volts: Float64Array,
  { start, end, turns, sign }: TrackedStretch,
  rateHz: number,
): { value: number; seconds: number; angle: number } | null {
  let flux = 0
  for (let i = start; i < end; i++) {
    const mean = (volts[i]! + volts[i + 1]!) / 2
    if (Number.isNaN(mean)) return null
    flux += mean / rateHz
  }
  const angle = 2 * Math.PI * turns.at(-1)!
  return angle > 0 ? { value: (sign * flux) / angle, seconds: (end - start) / rateHz, angle } : null
}

function fromLevels({ comb }: RippleTrack): number {
  const sorted = comb.levels.toSorted((a, b) => a.emfVolt - b.emfVolt)
  const [low, high] = [sorted[0], sorted.at(-1)]
  if (low && high && high.emfVolt > LEVELS_APART * low.emfVolt) {
    return (high.emfVolt - low.emfVolt) / (2 * Math.PI * (high.turnsPerSec - low.turnsPerSec))
  }
  return 1 / (2 * Math.PI * comb.turnsPerVoltSec)
}
