import { failure, type Result, success } from '../base/result.ts'
import { chooseRateHz, coastStep, type PlanContext, type PlannedStep } from './plan-parts.ts'
import type { PlanGuard, TestPlan, Thermostat } from './test-plan.ts'
import { THERMOMETER_SETTLE_SEC, THERMOMETER_WINDOW_SEC } from './winding-thermometer.ts'

/** The lowest class of IEC 60085: no insulation in use is said to stand less. */
export const SAFE_HOTTEST_CELSIUS = 90
/** Above the highest class of IEC 60085 that has a letter nothing is heated. */
export const HIGHEST_HOTTEST_CELSIUS = 220
/** A rise smaller than this tells nothing of a thermal model. */
const LEAST_HOTTEST_RISE = 30

const LEAD_IN_SEC = 0.3
const REFERENCE_PULSES = 4
/** Of the heating voltage: current enough to read, a tenth of the heat. */
const READ_SHARE = 0.35
/** Two windows at least, so that a pulse also shows how fast it warms. */
const READ_SEC = THERMOMETER_SETTLE_SEC + 2 * THERMOMETER_WINDOW_SEC + 0.02
const REST_SEC = 0.06
/** The first heating pulse is short: nobody knows yet how fast the winding warms. */
const FIRST_HEAT_SEC = 0.3
const HEAT_GROWTH = 1.5
const LONGEST_HEAT_SEC = 5
/** Share of the time that a drive may last before rig and watch take a standing shaft for a stall. */
const STALL_SHARE = 0.6
/** Share of the duration that is spent heating; cooling shows the housing without the heat's noise. */
const HEAT_SHARE = 0.4
/** Readings while it cools: the next after this, and a share of the time since. */
const FIRST_WAIT_SEC = 0.4
const WAIT_SHARE = 0.03
const LONGEST_WAIT_SEC = 30
/** The thermostat keeps this far below what the watch allows. */
const MARK_SHARE = 0.85
const RATE_HZ = 500
/** Shorter runs hold too few readings. */
export const SHORTEST_HEATING_SEC = 20

export interface HeatingOrder {
  /** Of the heating; its sign is the direction. */
  readonly volt: number
  readonly durationSec: number
}

/** Checks what the operator says of temperatures. The allowed rise of the hottest coil, or why there is none. */
export function heatingRiseKelvin(
  ambientCelsius: number | null,
  hottestCelsius: number | null,
): Result<number, string> {
  if (ambientCelsius === null) {
    return failure(
      'needs the temperature of the air, and a motor as warm as it: the winding is the thermometer and is set by it',
    )
  }
  const hottest = hottestCelsius ?? SAFE_HOTTEST_CELSIUS
  if (!(hottest <= HIGHEST_HOTTEST_CELSIUS)) {
    return failure(
      `hottest coil at ${hottest} °C; at most ${HIGHEST_HOTTEST_CELSIUS} °C, and no more than the insulation stands`,
    )
  }
  const rise = hottest - ambientCelsius
  return rise >= LEAST_HOTTEST_RISE
    ? success(rise)
    : failure(
        `hottest coil at ${hottest} °C in air of ${ambientCelsius} °C; must be at least ${LEAST_HOTTEST_RISE} K warmer to tell anything`,
      )
}

/**
 * A locked rotor is warmed by pulses, each shorter than what rig and watch take for a stall, and left to cool
 * under small pulses from which its resistance is read. Small pulses come first: the cold winding's
 * resistance. Each heating pulse is under a thermostat, whose mark lies below what the watch allows.
 */
export function heatingSteps(
  context: PlanContext,
  { volt, durationSec }: HeatingOrder,
  allowedMeanKelvin: number,
): readonly PlannedStep[] | string {
  if (durationSec < SHORTEST_HEATING_SEC) {
    return `${durationSec} s is too short to warm up and cool down; at least ${SHORTEST_HEATING_SEC} s`
  }
  const longest = Math.min(LONGEST_HEAT_SEC, STALL_SHARE * context.limits.stallSec)
  if (longest < READ_SEC) {
    return `the rig takes ${context.limits.stallSec} s at standstill for a stall; heating needs ${(READ_SEC / STALL_SHARE).toFixed(1)} s at least`
  }
  const readVolt = readingVolt(volt)
  const pulse = (setVolt: number, sec: number, purpose: string): PlannedStep => ({
    ...coastStep(context, sec, purpose),
    bridge: 'drive',
    setVolt: Math.round(1000 * setVolt) / 1000,
  })
  const thermostat: Thermostat = {
    meanRiseKelvin: MARK_SHARE * allowedMeanKelvin,
    readVolt,
    readSec: READ_SEC,
  }
  const rest = coastStep(context, REST_SEC, 'rest')
  const steps = [coastStep(context, LEAD_IN_SEC, 'rest: offsets')]
  for (let n = 0; n < REFERENCE_PULSES; n++) {
    steps.push(pulse(readVolt, READ_SEC, 'resistance of the cold winding'), rest)
  }
  let heatSec = Math.min(longest, FIRST_HEAT_SEC)
  for (let sec = 0; sec < HEAT_SHARE * durationSec; ) {
    steps.push({ ...pulse(volt, heatSec, 'heating'), thermostat }, rest)
    sec += heatSec + REST_SEC
    heatSec = Math.min(longest, HEAT_GROWTH * heatSec)
  }
  let left = durationSec - steps.reduce((sum, step) => sum + step.durationSec, 0)
  for (let sec = 0; left > READ_SEC + FIRST_WAIT_SEC; ) {
    const wait = Math.min(
      LONGEST_WAIT_SEC,
      FIRST_WAIT_SEC + WAIT_SHARE * sec,
      left - READ_SEC - REST_SEC,
    )
    steps.push(
      coastStep(context, wait, 'cooling'),
      pulse(readVolt, READ_SEC, 'resistance while it cools'),
    )
    sec += wait + READ_SEC
    left -= wait + READ_SEC
  }
  return [...steps, rest]
}

const readingVolt = (volt: number) => Math.round(1000 * READ_SHARE * volt) / 1000

export const heatingRateHz = ({ rig }: PlanContext): number => chooseRateHz(rig.ratesHz, RATE_HZ)

/** The watch reads the temperature off the winding. */
export function withThermometer(plan: TestPlan, volt: number, hottestCelsius: number): TestPlan {
  const guard: PlanGuard = {
    ...plan.guard!,
    thermometer: {
      levelVolts: [Math.abs(readingVolt(volt)), Math.abs(volt)],
      hottestCelsius,
    },
  }
  return { ...plan, guard }
}
