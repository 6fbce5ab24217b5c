import { failure, type Result, success } from '../base/result.ts'
import type { RigLimits } from './rig-facts.ts'

/** What no plan may exceed and the watch enforces. */
export interface EffectiveLimits {
  readonly currentAmp: number
  /** Which of the limits given is the lowest, in words: `the supply's current limit`. */
  readonly currentLimitedBy: string
  readonly voltageVolt: number
  readonly voltageLimitedBy: string
  /** Bus voltage above which the watch opens the bridge. */
  readonly busVolt: number
  /** Null: no limit is known. */
  readonly speedRadPerSec: number | null
  /** Accumulated rise of the hottest coil. */
  readonly riseKelvin: number
  readonly stallSec: number
  readonly stepSec: number
}

/** What the operator, the supply and the bench say. Null: not stated. */
export interface LimitsGiven {
  readonly motorAmp: number | null
  readonly motorVolt: number | null
  readonly motorRadPerSec: number | null
  readonly supplyVolt: number | null
  readonly supplyAmp: number | null
  readonly riseKelvin: number
  /** The bench declares that it is fit for more than `TOUCHABLE_VOLT` and run by people who may. */
  readonly above60VoltDeclared: boolean
}

/**
 * Direct voltage that counts as safe to touch in dry rooms: 60 V, ripple-free. Source: IEC 60204-1
 * (protective extra-low voltage) and IEC 61140, from memory. Local rules may ask for less.
 */
export const TOUCHABLE_VOLT = 60

/** Rise of the hottest coil accumulated over a sequence. Common practice, no source. */
export const DEFAULT_RISE_LIMIT_KELVIN = 30

/** Where a rig declares no limit of its own. Common practice, no source. */
const DEFAULT_STALL_SEC = 1
const DEFAULT_STEP_SEC = 10

/** The supply may be pumped up this far above its set voltage before the watch acts. */
const BUS_MARGIN = 1.2

/**
 * The lowest of all limits given, and whose it is. Fails with one line where the bench may not be
 * driven at all.
 */
export function effectiveLimits(
  given: LimitsGiven,
  rig: RigLimits,
): Result<EffectiveLimits, string> {
  const supplyVolt = given.supplyVolt ?? rig.driveVolt
  if (supplyVolt > TOUCHABLE_VOLT && !given.above60VoltDeclared) {
    return failure(
      `supply of ${supplyVolt} V: above ${TOUCHABLE_VOLT} V DC nothing is driven unless the bench is declared fit for it`,
    )
  }
  const current = lowest([
    [given.motorAmp, "the operator's current limit"],
    [given.supplyAmp, "the supply's current limit"],
    [rig.currentAmp, "the rig's current limit"],
  ])
  const voltage = lowest([
    [given.motorVolt, "the motor's highest voltage"],
    [given.supplyVolt, "the supply's voltage"],
    [rig.driveVolt, "the rig's voltage limit"],
  ])
  for (const [what, value] of [
    ['current limit', current.value],
    ['voltage limit', voltage.value],
    ['temperature-rise limit', given.riseKelvin],
  ] as const) {
    if (!(value > 0 && Number.isFinite(value))) {
      return failure(`${what} of ${value}: must be a number above 0`)
    }
  }
  const speeds = [given.motorRadPerSec, rig.speedRadPerSec].filter(speed => speed !== null)
  return success({
    currentAmp: current.value,
    currentLimitedBy: current.by,
    voltageVolt: voltage.value,
    voltageLimitedBy: voltage.by,
    busVolt: Math.min(rig.busVolt ?? Number.POSITIVE_INFINITY, BUS_MARGIN * supplyVolt),
    speedRadPerSec: speeds.length > 0 ? Math.min(...speeds) : null,
    riseKelvin: given.riseKelvin,
    stallSec: rig.stallSec ?? DEFAULT_STALL_SEC,
    stepSec: rig.longestDriveSec ?? DEFAULT_STEP_SEC,
  })
}

function lowest(limits: readonly (readonly [number | null, string])[]): {
  value: number
  by: string
} {
  let best = { value: Number.POSITIVE_INFINITY, by: '' }
  for (const [value, by] of limits) if (value !== null && value < best.value) best = { value, by }
  return best
}

/**
 * Largest current that flows when a turning motor meets a new terminal voltage:
 *   |V − k ω| / R
 * V = 0 is a brake (kω/R); V of the opposite sign is a reversal, up to twice the stall current.
 * SI. The brush drop, which lowers it, is left out: the result bounds from above.
 */
export function edgeCurrentAmp(
  setVolt: number,
  backEmfVolt: number,
  resistanceOhm: number,
): number {
  return Math.abs(setVolt - backEmfVolt) / resistanceOhm
}
