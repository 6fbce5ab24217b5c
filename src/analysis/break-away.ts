import { turningLimit } from '../signals/phases.ts'
import type { RunSignals, Signal } from '../signals/run-signals.ts'
import { usualPeriodSec } from '../signals/usual-period.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'

/** The current at which a resting shaft broke away, in one direction. Magnitude, A. */
export interface BreakAway {
  readonly direction: 1 | -1
  readonly amp: number
  readonly standardUncertainty: number
}

/** A speed so noisy that less than this share of its reach cannot be told from rest does not show a start. */
const STILL_SHARE = 0.03
/** So long a shaft has to have stood: one that turns round stands for a moment. */
const REST_SEC = 0.1
/** So long it has to stand at a current to have stood at it, in as many samples at least. */
const STOOD_SEC = 0.02
const STOOD_SAMPLES = 10
const BRIEF = 3
/** A current at which it stood that is less than this share of the one at which it moved brackets nothing. */
const CLOSE = 0.5
const STANDS_OUT = 5
/** By how much starts from other angles may differ, relative. Common practice, no source. */
const ONE_START = 0.03
/** A shaft that rocks in its cogging comes back; one that breaks away goes on for so many samples. */
const GOES_ON = 20

/**
 * Where the current rises slowly, or by steps, until a resting shaft breaks away: between the highest current at
 * which it stood and the one at which it moved; halfway, with the uncertainty of a rectangular distribution
 * (GUM 4.3.7). A shaft that is started at once brackets nothing.
 */
export function breakAways(signals: RunSignals): BreakAway[] {
  const { current, speed, timeSec } = signals
  if (!current || !speed || !timeSec || signals.count < 2 * STOOD_SAMPLES) return []
  const periodSec = usualPeriodSec(timeSec)
  const stood = Math.max(STOOD_SAMPLES, Math.ceil(STOOD_SEC / periodSec))
  const rest = Math.max(2 * stood, Math.ceil(REST_SEC / periodSec))
  const limit = turningLimit(speed)
  if (limit > STILL_SHARE * speed.reach) return []
  const found: BreakAway[] = []
  let restsFrom = 0
  for (let i = 0; i < signals.count; i++) {
    // Where nobody read the speed the shaft may have turned.
    if (Number.isNaN(speed.values[i]!)) restsFrom = i + 1
    if (!(Math.abs(speed.values[i]!) > limit)) continue
    const start = i
    while (i < signals.count && !(Math.abs(speed.values[i]!) <= limit)) i++
    if (start - restsFrom >= rest && i - start >= GOES_ON) {
      const one = bracket(current, restsFrom, start, stood)
      if (one !== null) found.push(one)
    }
    restsFrom = i
  }
  return found
}

function bracket(
  current: Signal,
  restsFrom: number,
  start: number,
  samples: number,
): BreakAway | null {
  // As soon as it turns its back-EMF lowers the current.
  const moved = extreme(current, start - STOOD_SAMPLES, start + STOOD_SAMPLES, BRIEF)
  // What flows while the first sign of motion comes may be the next step's already.
  const stood = extreme(current, restsFrom, start - STOOD_SAMPLES, samples, Math.sign(moved))
  const share = stood / moved
  if (Math.abs(stood) < STANDS_OUT * current.noise || !(share >= CLOSE)) return null
  return {
    direction: moved > 0 ? 1 : -1,
    amp: Math.abs(stood + moved) / 2,
    standardUncertainty: Math.hypot(
      Math.abs(moved - stood) / Math.sqrt(12),
      current.noise / Math.sqrt(BRIEF),
    ),
  }
}

/** The mean over so many samples that is furthest from nil, on one side if that is given. */
function extreme({ values }: Signal, from: number, to: number, length: number, side = 0): number {
  let largest = 0
  let sum = 0
  const first = Math.max(0, from)
  for (let i = first; i < Math.min(to, values.length); i++) {
    sum += values[i]!
    if (i - first < length - 1) continue
    const mean = sum / length
    const isOn = side === 0 || Math.sign(mean) === side
    if (isOn && Math.abs(mean) > Math.abs(largest)) largest = mean
    sum -= values[i - length + 1]!
  }
  return largest
}

/**
 * One current for both directions: their means halfway between them, since a constant torque helps in one and
 * hinders in the other. Null where no shaft broke away slowly.
 */
export function breakAwayCurrent(all: readonly BreakAway[]): Estimate | null {
  const sides = ([1, -1] as const).flatMap(direction => {
    const own = all.filter(one => one.direction === direction)
    if (own.length === 0) return []
    const amp = own.reduce((sum, one) => sum + one.amp, 0) / own.length
    const scatter = own.reduce((sum, one) => sum + (one.amp - amp) ** 2, 0)
    const bracketed = own.reduce((sum, one) => sum + one.standardUncertainty ** 2, 0)
    return [{ amp, variance: bracketed / own.length ** 2 + scatter / own.length }]
  })
  if (sides.length === 0) return null
  const value = sides.reduce((sum, { amp }) => sum + amp, 0) / sides.length
  const variance = sides.reduce((sum, side) => sum + side.variance, 0) / sides.length ** 2
  return {
    value,
    standardUncertainty: Math.sqrt(variance + (ONE_START * value) ** 2 / all.length),
    degreesOfFreedom: Number.POSITIVE_INFINITY,
  }
}
