import type { TestConditions } from '../records/test-run.ts'
import type { TestKind } from '../records/test-kind.ts'
import type { EffectiveLimits } from './limits.ts'

/** One command to the bridge. The rig ends it by itself after its duration, host or no host. */
export interface DriveStep {
  readonly bridge: 'drive' | 'coast' | 'brake'
  /** Average voltage across the motor while driving; 0 in coast and brake. */
  readonly setVolt: number
  readonly durationSec: number
  /** The rig trips above this magnitude of current, in either direction. */
  readonly currentLimitAmp: number
  /** What the step is for, in words for the operator. */
  readonly purpose: string
  /** Heats only as long as the winding is cool enough; the rest of the duration is spent in coast. */
  readonly thermostat?: Thermostat
}

/** How a step that heats gives way where the winding is as warm as it should be. */
export interface Thermostat {
  /** Mean rise of the winding that is aimed at, by its resistance. */
  readonly meanRiseKelvin: number
  /** Then the resistance is only read: with this voltage, for this time. */
  readonly readVolt: number
  readonly readSec: number
}

/** One test as it will be driven and logged: what the operator is told before anything moves. */
export interface TestPlan {
  readonly kind: TestKind
  /** Samples a second of every channel. */
  readonly rateHz: number
  readonly steps: readonly DriveStep[]
  /** What the shaft must do; the opposite stops the test. */
  readonly shaft: 'locked' | 'free' | 'any'
  readonly conditions: TestConditions
  /** Expected worst case of the whole plan; null before anything is known of the motor. */
  readonly expectedPeakAmp: number | null
  /** Rise of the hottest coil that this plan may add; null before anything is known of the motor. */
  readonly expectedRiseKelvin: number | null
  /** What the host's watch enforces on top of each step's current limit; without, the rig's limits. */
  readonly guard?: PlanGuard
  /** A `probe` of a guided sequence explores; an identification leaves it out unless asked for it. */
  readonly role?: 'probe' | 'measure'
}

export interface PlanGuard {
  readonly limits: EffectiveLimits
  /** Mean rise of the winding within this run that is still allowed. */
  readonly allowedMeanRiseKelvin: number
  /** Brush drop taken off before the resistance is judged; 0 where not known. */
  readonly brushVolt: number
  /** Winding at the start, for turning a rise of resistance into kelvins. */
  readonly startCelsius: number
  /** Switching frequency of the bridge; null for a linear output. */
  readonly pwmHz: number | null
  /** For a plan that takes the winding as thermometer from its first pulses on. */
  readonly thermometer?: ThermometerGuard
}

export interface ThermometerGuard {
  /** Magnitudes of the voltages driven, the one that heats last; each is compared with its own readings. */
  readonly levelVolts: readonly number[]
  /** The hottest coil, as the operator allows it. */
  readonly hottestCelsius: number
}

export function planDurationSec(plan: TestPlan): number {
  return plan.steps.reduce((sum, step) => sum + step.durationSec, 0)
}
