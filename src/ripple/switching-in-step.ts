import type { RunSignals } from '../signals/run-signals.ts'
import { quantileOf } from '../statistics/robust.ts'
import type { EmfCourse } from './emf-course.ts'
import type { RippleSettings } from './ripple-settings.ts'

/** Switching that folds to less than this share of the sample rate is in step with the samples. */
const STEP_SHARE = 2e-4

/**
 * A voltage read at one phase of the switching, over less than a period of it, is not the mean voltage that drives the
 * motor: nothing in the record would show that.
 */
export function switchingInStep(
  { voltage }: RunSignals,
  rateHz: number,
  { switchingHz }: RippleSettings,
): string | null {
  if (switchingHz === null || voltage === null) return null
  const folded = Math.abs(switchingHz - rateHz * Math.round(switchingHz / rateHz))
  const periods = voltage.traits.apertureSec * switchingHz
  const whole = periods > 0.5 && Math.abs(periods - Math.round(periods)) < 0.05
  if (folded > STEP_SHARE * rateHz || whole || periods > 10) return null
  return `the samples at ${rateHz.toPrecision(5)} Hz keep step with the bridge's ${switchingHz.toPrecision(5)} Hz: each reads the voltage at the same moment of the pulse, not its mean; sample at a rate that is no part or multiple of it, or average over whole periods`
}

/** A voltage jumps where one sample differs from the next by this part of its range, … */
const JUMP_SHARE = 0.5
/** … which itself is this part of the highest: a noisy channel does not. */
const RANGE_SHARE = 0.3
/** A voltage that is set in steps jumps now and then; pulses do it so often at least. */
const LEAST_JUMPS = 20

/** Some pulses stay where they are short; where one sample in so many jumps, another rate than the bridge's was taken off. */
const LOST = 4

/**
 * Pulses that are left in the voltage once the switching that was found is taken off: read at single moments and close to
 * in step with the samples, they show no rate of their own.
 */
export function pulsesLeft(
  { pieces, rateHz }: EmfCourse,
  seen: 'any' | 'nearly all' = 'any',
): string | null {
  const samples = pieces.reduce((sum, { ripple }) => sum + ripple.length, 0)
  const least = seen === 'any' ? LEAST_JUMPS : Math.max(LEAST_JUMPS, samples / LOST)
  const jumps = pieces.reduce((sum, { terminals, voltage }) => {
    if (terminals === 'open' || voltage === null) return sum
    const sizes = voltage.map(Math.abs)
    const range = quantileOf(sizes, 0.95) - quantileOf(sizes, 0.05)
    if (range < RANGE_SHARE * quantileOf(sizes, 0.95)) return sum
    let count = 0
    for (let i = 1; i < voltage.length; i++) {
      if (Math.abs(voltage[i]! - voltage[i - 1]!) > JUMP_SHARE * range) count++
    }
    return sum + count
  }, 0)
  if (jumps < least) return null
  return `the voltage jumps ${jumps} times from one sample at ${rateHz.toPrecision(5)} Hz to the next, in no rhythm that these samples show: the bridge switches nearly in step with them, or with half of their rate; sample at another rate, or average over whole periods of the switching`
}
