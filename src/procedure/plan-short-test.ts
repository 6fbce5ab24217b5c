import { failure, type Result, success } from '../base/result.ts'
import type { FitDocument } from '../contract/fit-document.ts'
import type { TestConditions } from '../records/test-run.ts'
import { climb, highestFreeVolt, settleSec } from './climb.ts'
import { assumeLeast } from './heat.ts'
import { knownFromFit } from './known-from-fit.ts'
import type { KnownMotor } from './known-motor.ts'
import type { EffectiveLimits } from './limits.ts'
import { planLockedRotor } from './plan-locked-rotor.ts'
import {
  chooseRateHz,
  closePlan,
  coastStep,
  type PlanContext,
  type Planned,
  type PlannedStep,
  planFault,
  stallStep,
  VOLTAGE_SHARES,
} from './plan-parts.ts'
import { TURNING_LEAD_IN_SEC, TURNING_RATE_HZ } from './plan-spin.ts'
import type { RigFacts } from './rig-facts.ts'
import type { TestPlan } from './test-plan.ts'

/** The bridge drives for no longer than this in a short test. */
export const SHORT_TEST_SEC = 10

export interface ShortTestOrder {
  /** An identified motor of the type. */
  readonly reference: FitDocument
  /** The highest voltage: that at which the limits are stated. */
  readonly voltageVolt: number
  /** Shaft positions at which the rotor is locked. */
  readonly positions: number
  /**
   * The starting voltage is wanted. A shaft that only just turns has another friction than one that runs: four
   * times the uncertainty of the friction is the price (test/studies/simulated-lots.md).
   */
  readonly withStart: boolean
  readonly rig: RigFacts
  readonly limits: EffectiveLimits
  readonly conditions: TestConditions
  /** Heat capacity that windings of the type surely have; null: by the bound of k²/R. */
  readonly heatJPerKelvin: number | null
}

export interface ShortTestPart {
  readonly title: string
  readonly plan: TestPlan
  /** Where the shaft is to be locked, from the first position; null for a free shaft. */
  readonly angleRad: number | null
}

/** The parts of a short test in the order in which they are driven. */
export interface ShortTest {
  readonly parts: readonly ShortTestPart[]
  readonly positions: number
  /** It shows the starting voltage. */
  readonly withStart: boolean
  /** Time for which the bridge drives. */
  readonly drivenSec: number
}

/** Every position as far from all the others as can be: the golden angle. */
const POSITION_STEP_RAD = Math.PI * (3 - Math.sqrt(5))
/** Of the rise allowed: for all locked positions together, for each direction of turning. */
const HELD_HEAT_SHARE = 0.3
const TURNING_HEAT_SHARE = 0.35
const WISHES = VOLTAGE_SHARES.flatMap(share =>
  [7, 6, 5, 4, 3, 2].flatMap(levels =>
    [0.35, 0.25, 0.15].map(holdSec => ({ share, levels, holdSec })),
  ),
)
const LOWEST_SHARE = 0.3
const OVER_BREAK_AWAY = 1.8
const LONGEST_COAST_SEC = 6
const SHORTEST_COAST_SEC = 0.4
const COAST_MARGIN = 1.3
/** The stair on which the shaft is to start, as shares of the starting voltage of the reference. */
const START_SHARES = [0.5, 0.62, 0.76, 0.93, 1.12, 1.35, 1.65, 2]
const START_STEP_SEC = 0.1

/**
 * Pulses with the shaft locked at one or several positions, then in each direction, after a stair of small
 * voltages on which the shaft starts where that is wanted, levels up to `voltageVolt` and a coast to standstill. As many levels,
 * held for as long, as `SHORT_TEST_SEC` of driving allow. Fails with one line.
 */
export function planShortTest(order: ShortTestOrder): Result<ShortTest, string> {
  if (!(Number.isInteger(order.positions) && order.positions >= 1)) {
    throw new RangeError(`positions = ${order.positions}; must be a whole number >= 1`)
  }
  const known = knownFromFit(order.reference, order.voltageVolt, 0)
  if (!known.ok) return known
  const heat = assumeLeast(known.value.heat, order.heatJPerKelvin ?? 0)
  const context = { ...order, known: { ...known.value, heat } }
  const held = planLockedRotor(context, HELD_HEAT_SHARE / order.positions)
  if (!held.ok) return failure(`locked rotor: ${held.error.text}`)
  const heldSec = order.positions * drivenSec(held.value)
  const directions = order.rig.reversible ? ([1, -1] as const) : ([1] as const)
  let why = ''
  for (const wish of WISHES) {
    const turning = directions.map(direction =>
      planTurning(context, order.voltageVolt, direction, wish),
    )
    const fault = turning.find(planned => !planned.ok)
    if (fault && !fault.ok) {
      why = fault.error.text
      continue
    }
    const plans = turning.flatMap(planned => (planned.ok ? [planned.value] : []))
    const total = heldSec + plans.reduce((sum, plan) => sum + drivenSec(plan), 0)
    if (total > SHORT_TEST_SEC) {
      why = `it would drive for ${total.toFixed(1)} s, more than ${SHORT_TEST_SEC} s: run the guided sequence instead`
      continue
    }
    return success({
      parts: [...heldParts(held.value, order.positions), ...turningParts(plans)],
      positions: order.positions,
      withStart: plans.some(hasStart),
      drivenSec: total,
    })
  }
  return failure(`short test: ${why}`)
}

const STARTING = 'starting voltage'

/** Whether a plan has a stair on which the shaft is to start. */
export const hasStart = (plan: TestPlan): boolean =>
  plan.steps.some(step => step.purpose === STARTING)

export function drivenSec(plan: TestPlan): number {
  return plan.steps.reduce((sum, s) => (s.bridge === 'drive' ? sum + s.durationSec : sum), 0)
}

function heldParts(plan: TestPlan, positions: number): ShortTestPart[] {
  return Array.from({ length: positions }, (_, index) => {
    const angleRad = (index * POSITION_STEP_RAD) % (2 * Math.PI)
    return {
      title: `short test: locked, position ${index + 1} of ${positions}`,
      plan: { ...plan, conditions: { ...plan.conditions, shaftAngleRad: angleRad } },
      angleRad,
    }
  })
}

function turningParts(plans: readonly TestPlan[]): ShortTestPart[] {
  return plans.map((plan, index) => ({
    title: `short test: ${index === 0 ? 'positive' : 'negative'} direction`,
    plan,
    angleRad: null,
  }))
}

function planTurning(
  context: PlanContext & Pick<ShortTestOrder, 'withStart'>,
  wantedVolt: number,
  direction: 1 | -1,
  wish: (typeof WISHES)[number],
): Planned {
  const { known, limits, withStart } = context
  const highest = wish.share * Math.min(wantedVolt, highestFreeVolt(context) ?? limits.voltageVolt)
  const lowest = Math.max(LOWEST_SHARE * highest, OVER_BREAK_AWAY * known.breakAwayVolt!)
  if (lowest >= highest) {
    return planFault(
      'limit',
      `${highest.toPrecision(3)} V are too little to turn this motor at several speeds`,
    )
  }
  const levels = Array.from({ length: wish.levels }, (_, i) => ({
    volt: lowest + ((highest - lowest) * i) / (wish.levels - 1),
    holdSec: wish.holdSec,
    purpose: `level ${i + 1} of ${wish.levels}`,
  }))
  const steps = climb(context, direction, levels)
  if (!steps) {
    return planFault(
      'limit',
      `${limits.currentLimitedBy} of ${limits.currentAmp} A is too low to bring this motor up to speed`,
    )
  }
  return closePlan(context, {
    kind: 'coast-down',
    shaft: 'free',
    rateHz: chooseRateHz(context.rig.ratesHz, TURNING_RATE_HZ),
    steps: [
      coastStep(context, TURNING_LEAD_IN_SEC, 'rest: offsets'),
      ...(withStart ? startStair(context, direction, lowest) : []),
      ...steps,
      coastStep(context, coastSec(known, highest), 'terminals open: coasting down'),
    ],
    heatShare: TURNING_HEAT_SHARE,
  })
}

function startStair(context: PlanContext, direction: 1 | -1, below: number): PlannedStep[] {
  const started = context.known.breakAwayVolt!
  const stepSec = Math.max(START_STEP_SEC, Math.min(0.2, settleSec(context.known) / 5))
  return START_SHARES.map(share => share * started)
    .filter(volt => volt < below)
    .map(volt => stallStep(context, direction * volt, stepSec, STARTING))
}

/** Time to standstill under dry friction alone, ω J/T_c with J = τ_m k²/R and T_c = k i_0: (V/R)(τ_m/i_0). */
function coastSec(known: KnownMotor, volt: number): number {
  const slow = known.turns[0]!
  const dry = ((volt / known.line!.resistanceOhm) * known.mechanicalSec!) / slow.amp
  return Math.min(LONGEST_COAST_SEC, Math.max(SHORTEST_COAST_SEC, COAST_MARGIN * dry))
}
