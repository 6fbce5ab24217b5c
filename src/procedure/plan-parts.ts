import { failure, type Result, success } from '../base/result.ts'
import type { TestConditions } from '../records/test-run.ts'
import type { TestKind } from '../records/test-kind.ts'
import {
  adiabaticRiseKelvin,
  allowedMeanRise,
  HOTTEST_OVER_MEAN,
  likelyRiseKelvin,
} from './heat.ts'
import { type KnownMotor, mostStallAmp, mostStepAmp } from './known-motor.ts'
import type { EffectiveLimits } from './limits.ts'
import type { RigFacts } from './rig-facts.ts'
import type { DriveStep, PlanGuard, TestPlan } from './test-plan.ts'

/** Everything a planner goes by. */
export interface PlanContext {
  readonly rig: RigFacts
  readonly limits: EffectiveLimits
  readonly known: KnownMotor
  readonly conditions: TestConditions
}

export interface PlanFault {
  /**
   * `too-warm`: a cool-down helps. `too-hot`: even a cold winding might not stand it, as far as is
   * known. `not-known`: another test comes first. `limit`: a limit forbids it.
   */
  readonly code: 'too-warm' | 'too-hot' | 'not-known' | 'limit'
  readonly text: string
}

export type Planned = Result<TestPlan, PlanFault>

export const planFault = (code: PlanFault['code'], text: string): Planned => failure({ code, text })

/** The plan for the first of several wishes that keeps the limits; else why the last does not. */
export function firstThatFits<W>(wishes: readonly W[], plan: (wish: W) => Planned): Planned {
  let planned: Planned = planFault('limit', 'nothing to plan')
  for (const wish of wishes) {
    planned = plan(wish)
    if (planned.ok) return planned
  }
  return planned
}

/** Shares of the highest voltage to try, where limits may forbid the whole. */
export const VOLTAGE_SHARES = [1, 0.75, 0.5] as const

/** Plans stay this far below the current at which the rig trips. */
const CEILING_SHARE = 0.9

export function ceilingAmp(limits: EffectiveLimits): number {
  return CEILING_SHARE * limits.currentAmp
}

/** A step of a plan with what the planner expects of it. */
export interface PlannedStep extends DriveStep {
  /** Least back-EMF when the step begins: 0 from standstill. */
  readonly backEmfVolt: number
  /** Most heat that the step puts into the winding. */
  readonly heatJoule: number
}

/** Sent in milliseconds, millivolts and milliamperes: plans are made of these. */
const milli = (value: number) => Math.round(value * 1000) / 1000

export function coastStep(context: PlanContext, durationSec: number, purpose: string): PlannedStep {
  return {
    bridge: 'coast',
    setVolt: 0,
    durationSec: Math.max(0.001, milli(durationSec)),
    currentLimitAmp: Math.floor(context.limits.currentAmp * 1000) / 1000,
    purpose,
    backEmfVolt: 0,
    heatJoule: 0,
  }
}

/** A pulse at standstill: all of its energy is heat. */
export function stallStep(
  context: PlanContext,
  setVolt: number,
  durationSec: number,
  purpose: string,
  currentLimitAmp = context.limits.currentAmp,
): PlannedStep {
  const amp = Math.min(mostStallAmp(context.known, setVolt) ?? currentLimitAmp, currentLimitAmp)
  return {
    ...coastStep(context, durationSec, purpose),
    bridge: 'drive',
    setVolt: milli(setVolt),
    currentLimitAmp: Math.floor(currentLimitAmp * 1000) / 1000,
    heatJoule: Math.abs(setVolt) * amp * durationSec,
  }
}

/** Share of the stall current that a turning motor of unknown friction may take. */
const UNKNOWN_NO_LOAD_SHARE = 0.3
/** Friction grows with speed: how far the no-load current may lie above that of a turn as fast, or slower. */
const SAME_SPEED_GROWTH = 1.2
const HIGHER_SPEED_GROWTH = 2
const UNKNOWN_MECHANICAL_SEC = 0.3

/** A drive of the free shaft that already makes `backEmfVolt` and settles to the new voltage. */
export function turningStep(
  context: PlanContext,
  setVolt: number,
  durationSec: number,
  backEmfVolt: number,
  purpose: string,
): PlannedStep {
  const { known } = context
  const line = known.line
  const resistanceOhm = line?.resistanceOhm ?? 0
  const jumpVolt = Math.abs(setVolt) - Math.abs(backEmfVolt)
  const settleSec = Math.min(durationSec, known.mechanicalSec ?? UNKNOWN_MECHANICAL_SEC)
  // ∫ i²R of an exponential settling is half a time constant of its first value.
  const settlingJoule = line ? ((jumpVolt * jumpVolt) / resistanceOhm) * (settleSec / 2) : 0
  const steadyAmp = line ? mostNoLoadAmp(known, Math.abs(setVolt)) : 0
  return {
    ...coastStep(context, durationSec, purpose),
    bridge: 'drive',
    setVolt: milli(setVolt),
    backEmfVolt,
    heatJoule:
      settlingJoule +
      (steadyAmp * steadyAmp * resistanceOhm + steadyAmp * (line?.brushVolt ?? 0)) * durationSec,
  }
}

export function mostNoLoadAmp(known: KnownMotor, setVolt: number): number {
  const fastest = known.turns.at(-1)
  if (fastest) {
    const asFast = Math.abs(setVolt) <= 1.05 * fastest.volt
    return (asFast ? SAME_SPEED_GROWTH : HIGHER_SPEED_GROWTH) * fastest.amp
  }
  const share = UNKNOWN_NO_LOAD_SHARE * (mostStallAmp(known, setVolt) ?? 0)
  return Math.max(share, known.breakAwayAmp ?? 0)
}

/** Splits what is longer than the rig takes in one command. */
function withinCommand(steps: readonly PlannedStep[], longestSec: number): PlannedStep[] {
  return steps.flatMap(step => {
    const parts = Math.ceil(step.durationSec / longestSec - 1e-9)
    if (parts <= 1) return [step]
    const part = {
      ...step,
      durationSec: milli(step.durationSec / parts),
      heatJoule: step.heatJoule / parts,
    }
    return Array.from({ length: parts }, () => part)
  })
}

export interface PlanDraft {
  readonly kind: TestKind
  readonly shaft: TestPlan['shaft']
  readonly rateHz: number
  readonly steps: readonly PlannedStep[]
  /** Share of the heat still allowed that this plan may use. */
  readonly heatShare?: number
}

/** The plan with its worst case; fails where that would pass a limit. */
export function closePlan(context: PlanContext, draft: PlanDraft): Planned {
  const { limits, known } = context
  const steps = withinCommand(draft.steps, limits.stepSec)
  const driven = steps.filter(step => step.bridge === 'drive')
  for (const step of driven) {
    if (Math.abs(step.setVolt) > limits.voltageVolt + 1e-9) {
      return planFault(
        'limit',
        `${step.setVolt} V: ${limits.voltageLimitedBy} allows ${limits.voltageVolt} V`,
      )
    }
    if (step.setVolt < 0 && !context.rig.reversible) {
      return planFault('limit', 'this rig cannot drive in negative direction')
    }
  }
  const isKnown = driven.length === 0 || known.line !== null
  const peakAmp = Math.max(
    0,
    ...driven.map(step => mostStepAmp(known, step.setVolt, step.backEmfVolt) ?? 0),
  )
  if (peakAmp > limits.currentAmp) {
    return planFault(
      'limit',
      `${peakAmp.toPrecision(3)} A may flow: ${limits.currentLimitedBy} is ${limits.currentAmp} A`,
    )
  }
  const meanRise = adiabaticRiseKelvin(
    steps.reduce((sum, step) => sum + step.heatJoule, 0),
    known.heat,
  )
  const allowedMean = allowedMeanRise(known.heat, limits.riseKelvin)
  const share = draft.heatShare ?? 1
  if (meanRise > share * allowedMean + 1e-9) {
    const rise = `the hottest coil may rise by ${(HOTTEST_OVER_MEAN * meanRise).toPrecision(2)} K`
    const left = `${(HOTTEST_OVER_MEAN * share * allowedMean).toPrecision(2)} K of ${limits.riseKelvin} K are left for this test`
    // Cooling down only helps where a cold winding would be allowed as much.
    return meanRise * HOTTEST_OVER_MEAN > share * limits.riseKelvin
      ? planFault('too-hot', `${rise}, ${left}`)
      : planFault('too-warm', `${rise}, ${left}`)
  }
  return success({
    kind: draft.kind,
    rateHz: draft.rateHz,
    steps: steps.map(({ backEmfVolt: _, heatJoule: __, ...step }) => step),
    shaft: draft.shaft,
    conditions: conditionsNow(context),
    expectedPeakAmp: isKnown ? peakAmp : null,
    expectedRiseKelvin: isKnown ? HOTTEST_OVER_MEAN * meanRise : null,
    guard: guardOf(context, allowedMean),
  })
}

function conditionsNow({ conditions, known }: PlanContext): TestConditions {
  const { ambientCelsius } = conditions
  return {
    ...conditions,
    windingCelsius: ambientCelsius === null ? null : ambientCelsius + likelyRiseKelvin(known.heat),
  }
}

/** Assumed for turning a ratio of resistances into kelvins where nobody told the ambient. */
const UNTOLD_AMBIENT_CELSIUS = 20

function guardOf(context: PlanContext, allowedMeanRiseKelvin: number): PlanGuard {
  const { conditions, known, limits, rig } = context
  return {
    limits,
    allowedMeanRiseKelvin,
    brushVolt: known.line?.brushVolt ?? 0,
    startCelsius:
      (conditions.ambientCelsius ?? UNTOLD_AMBIENT_CELSIUS) + likelyRiseKelvin(known.heat),
    pwmHz: rig.pwmHz,
  }
}

/** The lowest rate offered that reaches the one wanted, or the highest there is. */
export function chooseRateHz(ratesHz: readonly number[], wantedHz: number): number {
  if (ratesHz.length === 0) throw new RangeError('ratesHz is empty; must hold at least one rate')
  const sorted = [...ratesHz].sort((a, b) => a - b)
  return sorted.find(rate => rate >= wantedHz * (1 - 1e-9)) ?? sorted.at(-1)!
}
