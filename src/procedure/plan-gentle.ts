import { adiabaticRiseKelvin, allowedMeanRise } from './heat.ts'
import { type KnownMotor, mostStallAmp } from './known-motor.ts'
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
import { nextStallVolt, stallLine } from './stall-line.ts'
import type { TestPlan } from './test-plan.ts'

/** Locked-rotor pulses are sampled as fast as the rig can, so that the rise of current is resolved. */
export const PULSE_RATE_HZ = Number.POSITIVE_INFINITY

const GENTLE_SEC = 0.12
const SHORTEST_SEC = 0.03
const REST_SEC = 0.06
const LEAD_IN_SEC = 0.05
/** The lower of the two voltages of a gentle pulse. */
const LOWER_SHARE = 0.75
/** Mean rise that one exploring pulse may cause at most. */
const PROBE_RISE_KELVIN = 2

/**
 * Two short pulses at a voltage a little above what was tried before. The first of all is at about
 * one percent of the highest voltage. Where no current was seen yet, the rig's trip is set so that
 * even a trip puts next to no heat into the smallest winding.
 */
export function planGentle(
  context: PlanContext,
  goalAmp: number,
  shaft: TestPlan['shaft'],
  capVolt = context.limits.voltageVolt,
): Planned {
  const goal = Math.min(goalAmp, ceilingAmp(context.limits))
  const volt = nextStallVolt(context.known.stallPoints, goal, capVolt)
  return planPulses(context, [LOWER_SHARE * volt, volt], shaft, 'gentle pulse')
}

/** The same small voltage again, for comparing the resistance with an earlier one. */
export function planSmallCurrent(context: PlanContext, setVolt: number): Planned {
  return planPulses(context, [setVolt, setVolt], 'any', 'small current: resistance')
}

function planPulses(
  context: PlanContext,
  volts: readonly number[],
  shaft: TestPlan['shaft'],
  purpose: string,
): Planned {
  const energy = probeEnergyJoule(context)
  const steps: PlannedStep[] = [coastStep(context, LEAD_IN_SEC, 'rest')]
  for (const volt of volts) {
    const { amp, limitAmp } = gentleCurrent(context, volt, energy / volts.length)
    const sec = Math.min(GENTLE_SEC, energy / volts.length / (Math.abs(volt) * amp))
    if (!(sec >= SHORTEST_SEC * (1 - 1e-9))) {
      return planFault('too-warm', 'even a short pulse may warm the winding too much')
    }
    steps.push(stallStep(context, volt, Math.max(sec, SHORTEST_SEC), purpose, limitAmp))
    steps.push(coastStep(context, REST_SEC, 'rest'))
  }
  return closePlan(context, {
    kind: shaft === 'locked' ? 'locked-rotor' : 'mixed',
    shaft,
    rateHz: chooseRateHz(context.rig.ratesHz, PULSE_RATE_HZ),
    steps,
  })
}

/** Current to be reckoned with, and the trip level that makes it sure. */
function gentleCurrent(context: PlanContext, volt: number, energyJoule: number) {
  const { limits, known } = context
  const line = stallLine(known.stallPoints)
  const expected = mostStallAmp(known, volt)
  // Below the knee of the brush drop the line promises too little: twice is reckoned with.
  if (line && expected !== null) {
    const amp = Math.min(limits.currentAmp, line.settled ? expected : 2 * expected)
    return { amp: Math.max(amp, 1e-3), limitAmp: limits.currentAmp }
  }
  const limitAmp = Math.min(limits.currentAmp, energyJoule / (Math.abs(volt) * SHORTEST_SEC))
  return { amp: limitAmp, limitAmp }
}

export function probeEnergyJoule({ known, limits }: PlanContext): number {
  const mean = Math.min(PROBE_RISE_KELVIN, allowedMeanRise(known.heat, limits.riseKelvin) / 4)
  return mean * known.heat.leastJPerKelvin
}

const LONGEST_HEAT_PROBE_SEC = 0.3
const STALL_SHARE = 0.6

/**
 * One pulse with as much energy as is surely harmless: from the rise of the resistance within it
 * the heat capacity of the winding is bounded from below, and larger pulses become allowed.
 */
export function planHeatProbe(context: PlanContext, goalAmp: number): Planned {
  const { known, limits } = context
  const line = stallLine(known.stallPoints)
  if (!line) return planFault('not-known', 'the resistance comes first')
  const energy = probeEnergyJoule(context)
  const longest = Math.min(LONGEST_HEAT_PROBE_SEC, STALL_SHARE * limits.stallSec)
  const goal = Math.min(goalAmp, ceilingAmp(limits))
  let volt = nextStallVolt(known.stallPoints, goal, limits.voltageVolt)
  const shortest = Math.min(longest, shortestHeatProbeSec(known))
  // Largest voltage at which the energy lasts for a pulse long enough to be read.
  for (let i = 0; i < 60 && energy < volt * mostStallAmp(known, volt)! * shortest; i++) volt *= 0.93
  const power = volt * mostStallAmp(known, volt)!
  if (!(power > 0)) return planFault('not-known', 'no current flows at a harmless voltage')
  const sec = Math.min(longest, energy / power)
  return closePlan(context, {
    kind: 'locked-rotor',
    shaft: 'locked',
    rateHz: chooseRateHz(context.rig.ratesHz, PULSE_RATE_HZ),
    steps: [
      coastStep(context, LEAD_IN_SEC, 'rest'),
      stallStep(context, volt, sec, 'harmless pulse: how fast the winding warms'),
      coastStep(context, REST_SEC, 'rest'),
    ],
  })
}

/** The current must have risen before the resistance can be read. */
export function shortestHeatProbeSec(known: KnownMotor): number {
  return Math.max(SHORTEST_SEC, 12 * (known.electricalSec ?? 0))
}

/** The mean rise that one exploring pulse causes at most, for telling the operator. */
export function probeRiseKelvin(context: PlanContext): number {
  return adiabaticRiseKelvin(probeEnergyJoule(context), context.known.heat)
}
