import { allowedMeanRise, leastJPerKelvin } from './heat.ts'
import type { KnownMotor } from './known-motor.ts'
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
import { nextRockedVolt, nextStallVolt, type StallLine } from './stall-line.ts'
import type { TestPlan } from './test-plan.ts'

/** Pulses at standstill are sampled as fast as the rig can, so that the rise of current is resolved. */
export const PULSE_RATE_HZ = Number.POSITIVE_INFINITY

/** Long enough for a shaft to start and a small current to be read. */
const GENTLE_SEC = 0.12
/** Long enough for the warming to show in the resistance, where the winding surely stands it. */
const EXPLORING_SEC = 0.25
const SHORTEST_SEC = 0.03
/** Electrical time constants in a pulse: the current has settled, and most of the pulse is left. */
const RISEN_TIME_CONSTANTS = 26
/** Of the time for which the rig lets a current flow without rotation. */
const STALL_SHARE = 0.6
/** While so little of the current aimed at was seen, three rising pulses go into one test. */
const FAR_BELOW_SHARE = 0.05
const SERIES_SHARES = [1, 1.25, 1.6] as const
const REST_SEC = 0.06
const LEAD_IN_SEC = 0.05
/** The lower of the two voltages of a gentle pulse. */
const LOWER_SHARE = 0.75
/** Mean rise that one exploring pulse may cause at most, and its share of what is still allowed. */
const PULSE_RISE_KELVIN = 2
const PULSE_RISE_SHARE = 0.25

/**
 * A pulse a little stronger than those before it: which current flows, does the shaft turn, how
 * fast does the winding warm? It lasts for as long as the winding surely stands it, and is weaker
 * where it does not. `capVolt`: no higher than this.
 */
export function planGentle(
  context: PlanContext,
  goalAmp: number,
  shaft: TestPlan['shaft'],
  capVolt = context.limits.voltageVolt,
): Planned {
  const { known, limits } = context
  const goal = Math.min(goalAmp, ceilingAmp(limits))
  const standing = nextStallVolt(known.stallPoints, goal, capVolt)
  const rocked = shaft === 'any' ? nextRockedVolt(known.stallPoints, goal) : null
  const volt = Math.min(capVolt, Math.max(standing, rocked ?? 0))
  const line = known.line
  if (!line) {
    const plain =
      shaft === 'locked' ? 'is a current flowing?' : 'is a current flowing, does it turn?'
    return pulses(context, [LOWER_SHARE * volt, volt], shaft, `gentle pulse: ${plain}`)
  }
  return explore(context, { line, volt, capVolt, goal, shaft })
}

/** The same small voltage again, for comparing the resistance with an earlier one. */
export function planSmallCurrent(context: PlanContext, setVolt: number): Planned {
  return pulses(context, [setVolt, setVolt], 'any', 'small current: resistance')
}

/** As much energy as one exploring pulse may put into the winding. */
function pulseEnergyJoule({ known, limits }: PlanContext): number {
  const allowed = PULSE_RISE_SHARE * allowedMeanRise(known.heat, limits.riseKelvin)
  return Math.min(PULSE_RISE_KELVIN, allowed) * leastJPerKelvin(known.heat)
}

interface Exploring {
  readonly line: StallLine
  readonly volt: number
  readonly capVolt: number
  readonly goal: number
  readonly shaft: TestPlan['shaft']
}

function explore(context: PlanContext, wanted: Exploring): Planned {
  const { line, shaft } = wanted
  const { known, limits } = context
  const energy = pulseEnergyJoule(context)
  const farBelow = line.topAmp < FAR_BELOW_SHARE * wanted.goal
  const longest = Math.min(farBelow ? GENTLE_SEC : EXPLORING_SEC, STALL_SHARE * limits.stallSec)
  const shortest = Math.min(longest, shortestPulseSec(known))
  const power = (volt: number) => volt * reckonedAmp(context, line, volt)
  let { volt } = wanted
  while (volt > 0.01 * wanted.volt && power(volt) * shortest > energy) volt *= 0.97
  if (!(power(volt) > 0)) return planFault('not-known', 'no current flows at a harmless voltage')
  const shares = farBelow ? SERIES_SHARES : [1]
  const count = shares.length
  const steps: PlannedStep[] = [coastStep(context, LEAD_IN_SEC, 'rest')]
  for (const share of shares) {
    const pulseVolt = Math.min(share * volt, wanted.capVolt)
    const sec = Math.min(longest, energy / count / power(pulseVolt))
    const pulse = stallStep(context, pulseVolt, Math.max(sec, shortest), 'gentle pulse')
    steps.push({ ...pulse, heatJoule: power(pulseVolt) * pulse.durationSec })
    steps.push(coastStep(context, REST_SEC, 'rest'))
  }
  return closePlan(context, { ...draftOf(context, shaft), steps })
}

function shortestPulseSec({ electricalSec }: KnownMotor): number {
  return Math.max(SHORTEST_SEC, RISEN_TIME_CONSTANTS * (electricalSec ?? 0))
}

/** How much more current than the line promises is reckoned with for the heat. */
const MORE_WHEN_STRAIGHT = 1.1
/** Below the knee of the brush drop the line promises too little. */
const MORE_WHEN_BENT = 1.3

function reckonedAmp({ limits }: PlanContext, line: StallLine, volt: number): number {
  // The current grows faster than the voltage: below the strongest pulse, proportion is too much.
  if (volt <= line.topVolt) return (line.topAmp * volt) / line.topVolt
  const promised = Math.max(0, volt - line.brushVolt) / line.resistanceOhm
  const more = line.settled ? MORE_WHEN_STRAIGHT : MORE_WHEN_BENT
  return Math.min(limits.currentAmp, Math.max(more * promised, line.topAmp))
}

/**
 * Where no current was seen yet, the rig's trip is set so that even a current that trips puts next
 * to no heat into the smallest winding.
 */
function pulses(
  context: PlanContext,
  volts: readonly number[],
  shaft: TestPlan['shaft'],
  purpose: string,
): Planned {
  const { known, limits } = context
  const line = known.line
  const energy = pulseEnergyJoule(context) / volts.length
  const steps: PlannedStep[] = [coastStep(context, LEAD_IN_SEC, 'rest')]
  for (const volt of volts) {
    const magnitude = Math.abs(volt)
    const limitAmp = line
      ? limits.currentAmp
      : Math.min(limits.currentAmp, energy / (magnitude * SHORTEST_SEC))
    const amp = line ? Math.max(1e-3, reckonedAmp(context, line, magnitude)) : limitAmp
    const sec = Math.min(GENTLE_SEC, energy / (magnitude * amp))
    if (!(sec >= SHORTEST_SEC * (1 - 1e-9))) {
      return planFault('too-warm', 'even a short pulse may warm the winding too much')
    }
    steps.push(stallStep(context, volt, Math.max(sec, SHORTEST_SEC), purpose, limitAmp))
    steps.push(coastStep(context, REST_SEC, 'rest'))
  }
  return closePlan(context, { ...draftOf(context, shaft), steps })
}

function draftOf({ rig }: PlanContext, shaft: TestPlan['shaft']) {
  const kind = shaft === 'locked' ? ('locked-rotor' as const) : ('mixed' as const)
  return { kind, shaft, rateHz: chooseRateHz(rig.ratesHz, PULSE_RATE_HZ) }
}
