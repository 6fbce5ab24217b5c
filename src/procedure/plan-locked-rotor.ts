import { allowedMeanRise, leastJPerKelvin } from './heat.ts'
import type { KnownMotor } from './known-motor.ts'
import type { EffectiveLimits } from './limits.ts'
import { PULSE_RATE_HZ } from './plan-gentle.ts'
import {
  ceilingAmp,
  chooseRateHz,
  closePlan,
  coastStep,
  type PlanContext,
  type Planned,
  type PlannedStep,
  planFault,
  stallStep,
} from './plan-parts.ts'
import { LEAST_RESISTANCE_SHARE, plannableAmp, type StallLine } from './stall-line.ts'

/** Levels as shares of the largest current. */
const LEVELS = [0.25, 0.5, 0.75, 1]
const PROOF_SHARE = 0.5
const PROOF_SEC = 0.04
const SHORTEST_PULSE_SEC = 0.08
const REST_SEC = 0.1
const LEAD_IN_SEC = 0.1
/** A pulse lasts this many electrical time constants, if the stall limit of the rig allows it. */
const TIME_CONSTANTS = 20
const STALL_SHARE = 0.6
/** Waiting for a cooler winding is worth it for levels below this share of what it would then stand. */
const WORTHWHILE_SHARE = 0.4
/** What one position may use of the rise allowed to a cool winding. */
const COOL_HEAT_SHARE = 0.15

/** The largest current that the limits other than heat allow at standstill. */
export function lockedGoalAmp(known: KnownMotor, limits: EffectiveLimits): number | null {
  const line = known.line
  if (!line) return null
  const byVolt = (limits.voltageVolt - line.brushVolt) / line.resistanceOhm
  return Math.min(byVolt, LEAST_RESISTANCE_SHARE * ceilingAmp(limits))
}

/**
 * Pulses of both polarities at several levels with the shaft locked at one position, each level
 * preceded by a gentle pulse that proves the shaft locked. `heatShare`: of the rise still allowed.
 */
export function planLockedRotor(context: PlanContext, heatShare: number): Planned {
  const { known, limits } = context
  const line = known.line
  const goal = lockedGoalAmp(known, limits)
  if (!line || goal === null) return planFault('not-known', 'a gentle pulse comes first')
  if (goal <= 0) {
    return planFault('limit', `${limits.voltageLimitedBy} drives no current through the brushes`)
  }
  const largest = thermalAmp(context, line, Math.min(goal, plannableAmp(line)), heatShare)
  const cool = { ...known, heat: { ...known.heat, quickJoule: 0, slowJoule: 0 } }
  const largestWhenCool = thermalAmp({ ...context, known: cool }, line, goal, COOL_HEAT_SHARE)
  if (
    heatShare <= 0 ||
    largest < WORTHWHILE_SHARE * Math.min(largestWhenCool, plannableAmp(line))
  ) {
    return planFault('too-warm', 'the winding has to cool down before the next position')
  }
  return closePlan(context, {
    kind: 'locked-rotor',
    shaft: 'locked',
    rateHz: chooseRateHz(context.rig.ratesHz, PULSE_RATE_HZ),
    steps: lockedSteps(context, line, largest),
    heatShare,
  })
}

/** The largest current whose pulses stay within the heat allowed. */
export function thermalAmp(
  context: PlanContext,
  line: StallLine,
  goalAmp: number,
  heatShare: number,
): number {
  const { known, limits } = context
  const allowed =
    heatShare * allowedMeanRise(known.heat, limits.riseKelvin) * leastJPerKelvin(known.heat)
  const heatOf = (amp: number) =>
    lockedSteps(context, line, amp).reduce((sum, step) => sum + step.heatJoule, 0)
  if (heatOf(goalAmp) <= allowed) return goalAmp
  let low = 0
  let high = goalAmp
  for (let i = 0; i < 50; i++) {
    const middle = (low + high) / 2
    if (heatOf(middle) <= allowed) low = middle
    else high = middle
  }
  return low * (1 - 1e-3)
}

function lockedSteps(context: PlanContext, line: StallLine, largestAmp: number): PlannedStep[] {
  const { known, limits, rig } = context
  const pulseSec = Math.min(
    Math.max(SHORTEST_PULSE_SEC, TIME_CONSTANTS * (known.electricalSec ?? 0)),
    STALL_SHARE * limits.stallSec,
  )
  const volt = (amp: number) => line.brushVolt + line.resistanceOhm * amp
  const steps: PlannedStep[] = [coastStep(context, LEAD_IN_SEC, 'rest: offsets')]
  LEVELS.forEach((share, index) => {
    const proof = volt(PROOF_SHARE * LEVELS[0]! * largestAmp)
    steps.push(stallStep(context, proof, PROOF_SEC, 'gentle pulse: the shaft must not turn'))
    steps.push(coastStep(context, REST_SEC / 2, 'rest'))
    const level = volt(share * largestAmp)
    for (const sign of rig.reversible ? polarities(index) : [1, 1]) {
      steps.push(
        stallStep(context, sign * level, pulseSec, `level ${index + 1} of ${LEVELS.length}`),
      )
      steps.push(coastStep(context, REST_SEC, 'rest'))
    }
  })
  return steps
}

/** Alternating which polarity comes first keeps warming from looking like a difference of polarity. */
const polarities = (index: number) => (index % 2 === 0 ? [1, -1] : [-1, 1])
