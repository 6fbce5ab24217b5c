import { describe, expect, test } from 'vitest'
import { seededUniform, type Uniform } from '../../src/base/random.ts'
import {
  assumeLeast,
  HOTTEST_OVER_MEAN,
  leastByMassJPerKelvin,
  mostRiseKelvin,
  warm,
} from '../../src/procedure/heat.ts'
import { type KnownMotor, unknownMotor } from '../../src/procedure/known-motor.ts'
import { effectiveLimits } from '../../src/procedure/limits.ts'
import { planCoastDown } from '../../src/procedure/plan-coast-down.ts'
import { planFreeRun } from '../../src/procedure/plan-free-run.ts'
import { planGentle, planSmallCurrent } from '../../src/procedure/plan-gentle.ts'
import { planLockedRotor } from '../../src/procedure/plan-locked-rotor.ts'
import { chooseRateHz, type PlanContext, type Planned } from '../../src/procedure/plan-parts.ts'
import { planRunUp } from '../../src/procedure/plan-run-up.ts'
import { planFirstSpin, planSpin } from '../../src/procedure/plan-spin.ts'
import { planZero } from '../../src/procedure/plan-zero.ts'
import type { StallPoint } from '../../src/procedure/stall-line.ts'
import { stallLine } from '../../src/procedure/stall-line.ts'
import type { TestPlan } from '../../src/procedure/test-plan.ts'
import { UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'
import { standInRig } from './stand-in-motor.ts'

const span = (uniform: Uniform, low: number, high: number) => low * (high / low) ** uniform()

/** Something of which the planners know more or less, from 1 W to 300 W, 6 V to 48 V, 0.5 A to 30 A. */
function randomContext(uniform: Uniform): PlanContext & { ohm: number } {
  const supplyVolt = span(uniform, 6, 48)
  const rig = standInRig({ supplyVolt, reversible: uniform() < 0.8 })
  const limits = effectiveLimits(
    {
      motorAmp: span(uniform, 0.5, 30),
      motorVolt: uniform() < 0.5 ? null : span(uniform, 3, 48),
      motorRadPerSec: uniform() < 0.5 ? null : span(uniform, 100, 2000),
      supplyVolt,
      supplyAmp: span(uniform, 0.5, 30),
      riseKelvin: span(uniform, 5, 40),
      above60VoltDeclared: false,
    },
    { ...rig.limits, stallSec: span(uniform, 0.3, 2), longestDriveSec: span(uniform, 0.5, 10) },
  )
  if (!limits.ok) throw new Error(limits.error)
  const ohm = span(uniform, 0.05, 30)
  const known = knownSoFar(uniform, ohm)
  return { rig, limits: limits.value, known, conditions: UNKNOWN_CONDITIONS, ohm }
}

function knownSoFar(uniform: Uniform, ohm: number): KnownMotor {
  const level = uniform()
  const fresh = unknownMotor(0)
  const byMass = leastByMassJPerKelvin(span(uniform, 0.01, 3))
  const heat = warm(assumeLeast(fresh.heat, byMass), span(uniform, 0.01, 20), 0, 0)
  if (level < 0.15) return fresh
  const drop = 1.2 * uniform()
  const top = span(uniform, 0.05, 40)
  const stallPoints: StallPoint[] = [0.2, 0.4, 0.7, 1].map(share => ({
    volt: drop + ohm * share * top,
    amp: share * top,
    uncertaintyAmp: 1e-4 * top,
    standing: true,
  }))
  const standing = { ...fresh, stallPoints, line: stallLine(stallPoints), heat }
  if (level < 0.3) return standing
  const k = span(uniform, 0.003, 0.2)
  const amp = span(uniform, 0.01, 3)
  const turns = [1, 1.6, 2.5].map(times => {
    const radPerSec = times * span(uniform, 20, 60)
    return { volt: k * radPerSec + ohm * amp + drop, amp, radPerSec }
  })
  return {
    ...standing,
    breakAwayVolt: drop + ohm * amp * 1.3,
    breakAwayAmp: amp * 1.3,
    mechanicalSec: uniform() < 0.2 ? null : span(uniform, 0.005, 0.3),
    electricalSec: uniform() < 0.2 ? null : span(uniform, 5e-5, 5e-3),
    turns: turns.sort((a, b) => a.volt - b.volt),
  }
}

const PLANNERS: Readonly<Record<string, (context: PlanContext, uniform: Uniform) => Planned>> = {
  zero: context => planZero(context, 2),
  gentle: (context, u) =>
    planGentle(context, context.limits.currentAmp * u(), u() < 0.5 ? 'any' : 'locked'),
  'small current': (context, u) => planSmallCurrent(context, context.limits.voltageVolt * u()),
  'locked rotor': (context, u) => planLockedRotor(context, u()),
  'first turn': context => planFirstSpin(context),
  'slow turn': (context, u) => planSpin(context, context.limits.voltageVolt * u()),
  'free run': (context, u) => planFreeRun(context, u() < 0.5 ? 1 : -1),
  'run-up': (context, u) => planRunUp(context, u() < 0.5 ? 1 : -1),
  'coast-down': (context, u) => planCoastDown(context, u() < 0.5 ? 1 : -1, 20),
}

/** What no plan may do, whatever it was told of the motor. */
function breaches(plan: TestPlan, { limits, known, rig }: PlanContext): string[] {
  const found: string[] = []
  const say = (is: boolean, what: string) => {
    if (is) found.push(what)
  }
  for (const step of plan.steps) {
    say(Math.abs(step.setVolt) > limits.voltageVolt + 1e-3, `${step.setVolt} V`)
    say(step.currentLimitAmp > limits.currentAmp, `trip at ${step.currentLimitAmp} A`)
    say(
      !(step.durationSec > 0 && step.durationSec <= limits.stepSec + 1e-3),
      `${step.durationSec} s`,
    )
    say(step.bridge !== 'drive' && step.setVolt !== 0, 'a voltage without a drive')
    say(step.setVolt < 0 && !rig.reversible, 'negative on a rig that cannot')
    // Whole millivolts and milliseconds: the wire carries no finer ones.
    say(Math.abs(step.setVolt * 1000 - Math.round(step.setVolt * 1000)) > 1e-6, 'fraction of a mV')
  }
  const driven = plan.steps.filter(step => step.bridge === 'drive')
  if (plan.shaft === 'locked') {
    say(
      driven.some(step => step.durationSec > limits.stallSec),
      'longer than the rig lets it stall',
    )
  }
  say((plan.expectedPeakAmp ?? 0) > limits.currentAmp, `peak ${plan.expectedPeakAmp} A`)
  const rise = HOTTEST_OVER_MEAN * mostRiseKelvin(known.heat) + (plan.expectedRiseKelvin ?? 0)
  say(
    driven.length > 0 &&
      (plan.expectedRiseKelvin ?? 0) > 0 &&
      rise > limits.riseKelvin * (1 + 1e-6),
    `rise ${rise} K`,
  )
  say(!rig.ratesHz.includes(plan.rateHz), `rate ${plan.rateHz}`)
  return found
}

describe('no plan exceeds a limit, over 600 motors and benches', () => {
  test.each(Object.entries(PLANNERS))('%s', (name, planner) => {
    const uniform = seededUniform(1000 + name.length)
    let planned = 0
    for (let n = 0; n < 600; n++) {
      const context = randomContext(uniform)
      const plan = planner(context, uniform)
      if (!plan.ok) {
        expect(plan.error.text).not.toMatch(/NaN|undefined|Infinity/)
        continue
      }
      planned++
      expect(
        breaches(plan.value, context),
        JSON.stringify({ n, plan: plan.value, context }),
      ).toEqual([])
    }
    // The check means nothing where every plan was refused.
    expect(planned).toBeGreaterThan(60)
  })
})

test('at standstill the current of a locked-rotor plan stays under the limit for a resistance 15 % lower', () => {
  const uniform = seededUniform(77)
  for (let n = 0; n < 400; n++) {
    const context = randomContext(uniform)
    const plan = planLockedRotor(context, 0.5)
    if (!plan.ok) continue
    for (const { setVolt } of plan.value.steps) {
      const ohmic = Math.max(0, Math.abs(setVolt) - (context.known.line?.brushVolt ?? 0))
      expect(ohmic / (0.85 * context.ohm)).toBeLessThan(context.limits.currentAmp)
    }
  }
})

test('every level of a locked rotor is preceded by a pulse that proves the shaft locked', () => {
  const uniform = seededUniform(5)
  const contexts = Array.from({ length: 200 }, () => randomContext(uniform))
  const plans = contexts.flatMap(context => {
    const plan = planLockedRotor(context, 0.8)
    return plan.ok ? [plan.value] : []
  })
  expect(plans.length).toBeGreaterThan(30)
  for (const plan of plans) {
    const driven = plan.steps.filter(step => step.bridge === 'drive')
    const levels = driven.filter(step => step.purpose.startsWith('level'))
    const weakest = Math.min(...levels.map(step => Math.abs(step.setVolt)))
    for (const [i, step] of driven.entries()) {
      if (!step.purpose.startsWith('gentle')) continue
      expect(Math.abs(step.setVolt)).toBeLessThanOrEqual(weakest)
      expect(driven[i + 1]!.purpose).toMatch(/^level/)
    }
    expect(driven[0]!.purpose).toMatch(/^gentle/)
  }
})

test('free-run stairs only lead upwards: stepping down would brake and pump up the supply', () => {
  const uniform = seededUniform(9)
  for (let n = 0; n < 200; n++) {
    const plan = planFreeRun(randomContext(uniform), 1)
    if (!plan.ok) continue
    const volts = plan.value.steps.filter(step => step.bridge === 'drive').map(step => step.setVolt)
    expect(volts).toEqual([...volts].sort((a, b) => a - b))
  }
})

test.each([
  [[500, 1000, 5000], 900, 1000],
  [[5000, 500, 1000], 20_000, 5000],
  [[1000], Number.POSITIVE_INFINITY, 1000],
])('of the rates %o the lowest that reaches %d Hz', (rates, wanted, chosen) => {
  expect(chooseRateHz(rates, wanted)).toBe(chosen)
})
