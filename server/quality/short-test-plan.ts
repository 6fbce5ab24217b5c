import { InputFault } from '../../src/base/faults.ts'
import { effectiveLimits } from '../../src/procedure/limits.ts'
import {
  leastByMassJPerKelvin,
  leastJPerKelvin,
  type WindingHeat,
} from '../../src/procedure/heat.ts'
import {
  drivenSec,
  hasStart,
  planShortTest,
  type ShortTest,
} from '../../src/procedure/plan-short-test.ts'
import type { RigFacts } from '../../src/procedure/rig-facts.ts'
import type { TestPlan } from '../../src/procedure/test-plan.ts'
import {
  type PredictedQuantity,
  predictUncertainties,
  type TestEffort,
} from '../../src/quality/predict-uncertainty.ts'
import { UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'
import { lockedPositions } from '../../src/quality/widened-fit.ts'
import type { Store, StoredFit } from '../store/store.ts'
import { type JudgingGround, referenceFits } from './compare-batch.ts'

export interface ShortTestChoices {
  readonly rig: RigFacts
  readonly above60VoltDeclared: boolean
  /** Null: as many as the limits ask for, up to `MOST_POSITIONS`. */
  readonly positions: number | null
  readonly currentLimitAmp: number | null
  readonly ambientCelsius: number | null
  /** Bounds the heat that the winding takes where the reference says nothing of it. */
  readonly motorMassKg: number | null
}

export interface PlannedShortTest {
  readonly test: ShortTest
  readonly prediction: readonly PredictedQuantity[]
}

const ASKS_FOR_START: ReadonlySet<string> = new Set(['startingVoltage', 'staticTorque'])
const MOST_POSITIONS = 4
const ENOUGH = 0.95
const RISE_KELVIN = 30
/** Earlier short tests that a prediction looks at. */
const LOOKED_AT = 40
/** The scatter over positions needs three of them. */
const SCATTER_POSITIONS = 3

/** Plans the short test of a type from its reference, and tells its uncertainties beforehand. */
export function planForType(
  store: Store,
  ground: JudgingGround,
  choices: ShortTestChoices,
): PlannedShortTest {
  const first = referenceFits(store, ground.limits)[0]
  if (!first) {
    throw new InputFault(
      `the limits of '${ground.type.name}' name no reference motor; a short test is planned from one: rotorfit limits set --reference …`,
    )
  }
  const earlier = earlierShortTests(store, ground.type.id)
  const asked =
    choices.positions === null
      ? Array.from({ length: MOST_POSITIONS }, (_, i) => i + 1)
      : [choices.positions]
  let best: PlannedShortTest | null = null
  let why = ''
  for (const positions of asked) {
    const test = planShortTest({
      reference: first.document,
      voltageVolt: voltageOf(ground, first),
      positions,
      withStart: ground.resolved.some(limit => ASKS_FOR_START.has(limit.quantity)),
      rig: choices.rig,
      limits: limitsFor(choices),
      conditions: { ...UNKNOWN_CONDITIONS, ambientCelsius: choices.ambientCelsius },
      heatJPerKelvin: Math.max(
        knownHeat(store, first.motorId) ?? 0,
        choices.motorMassKg === null ? 0 : leastByMassJPerKelvin(choices.motorMassKg),
      ),
    })
    if (!test.ok) {
      why = test.error.includes(' K ')
        ? `${test.error}; the heat that the winding takes is known from a guided sequence of the reference, or bounded by --motor-mass`
        : test.error
      break
    }
    const prediction = predictUncertainties(
      ground.resolved,
      {
        reference: first.document,
        referenceEffort: effortOfFit(store, first),
        shortEffort: effortOf(test.value),
        earlier,
      },
      ground.rule,
    )
    best = { test: test.value, prediction }
    if (isEnough(best, ground)) break
  }
  if (!best) throw new InputFault(why)
  return best
}

function isEnough({ test, prediction }: PlannedShortTest, ground: JudgingGround): boolean {
  const wantsScatter = ground.resolved.some(limit => limit.quantity === 'resistanceScatter')
  if (wantsScatter && test.positions < SCATTER_POSITIONS) return false
  return prediction.every(each => each.passShare === null || each.passShare >= ENOUGH)
}

function voltageOf(ground: JudgingGround, reference: StoredFit): number {
  const stated = [
    ...ground.resolved.map(limit => limit.atVolt),
    ...Object.values(reference.document.derived).map(d =>
      typeof d.atVolt === 'number' ? d.atVolt : null,
    ),
  ].find(volt => volt !== null)
  if (stated == null) {
    throw new InputFault(
      `'${reference.document.motor}' was never driven at a steady voltage; run the guided sequence on it first`,
    )
  }
  return stated
}

function limitsFor(choices: ShortTestChoices) {
  const limits = effectiveLimits(
    {
      motorAmp: choices.currentLimitAmp,
      motorVolt: null,
      motorRadPerSec: null,
      supplyVolt: choices.rig.supplyVolt,
      supplyAmp: null,
      riseKelvin: RISE_KELVIN,
      above60VoltDeclared: choices.above60VoltDeclared,
    },
    choices.rig.limits,
  )
  if (!limits.ok) throw new InputFault(limits.error)
  return limits.value
}

/** What the guided sequence of the reference found out about the heat that its winding takes. */
function knownHeat(store: Store, motorId: number): number | null {
  const state = store.sequences.finished(motorId)?.state as
    | { known?: { heat?: WindingHeat } }
    | undefined
  const heat = state?.known?.heat
  return heat?.evidence ? leastJPerKelvin(heat) : null
}

function earlierShortTests(store: Store, typeId: number) {
  const tests = store.shortTests.ofType(typeId, LOOKED_AT)
  const motorIds = [...new Set(tests.map(test => test.motorId))]
  return motorIds.map(motorId =>
    tests.filter(test => test.motorId === motorId).map(test => store.fits.get(test.fitId).document),
  )
}

function effortOf(test: ShortTest): TestEffort {
  return {
    positions: test.positions,
    turningSec: test.parts.reduce(
      (sum, { plan, angleRad }) => sum + (angleRad === null ? drivenSec(plan) : 0),
      0,
    ),
    withStart: test.withStart,
  }
}

/** By the plans of its runs; null where one was not planned here. */
function effortOfFit(store: Store, fit: StoredFit): TestEffort | null {
  const runs = fit.runIds.map(id => store.runs.get(id))
  const plans = runs.flatMap((run): TestPlan[] => (run.plan ? [run.plan] : []))
  if (plans.length === 0 || plans.length < runs.length) return null
  return {
    positions: lockedPositions(fit.document),
    turningSec: plans.reduce((sum, p) => sum + (p.shaft === 'free' ? drivenSec(p) : 0), 0),
    withStart: plans.some(hasStart),
  }
}
