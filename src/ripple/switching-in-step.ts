import type { RunSignals } from '../signals/run-signals.ts'
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
