import { beforeAll, describe, expect, test } from 'vitest'
import type { FitDocument } from '../../src/contract/fit-document.ts'
import { knownFromFit } from '../../src/procedure/known-from-fit.ts'
import {
  drivenSec,
  planShortTest,
  SHORT_TEST_SEC,
  type ShortTest,
} from '../../src/procedure/plan-short-test.ts'
import { DEFAULT_DECISION_RULE } from '../../src/quality/conformity.ts'
import { predictUncertainties } from '../../src/quality/predict-uncertainty.ts'
import type { ResolvedLimit } from '../../src/quality/resolve-limits.ts'
import { allowForPositions, lockedPositions } from '../../src/quality/widened-fit.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { practiceMotor } from '../support/practice.ts'
import {
  driveShortTest,
  identified,
  referenceFit,
  shortTestFor,
} from '../support/short-test-rig.ts'

const motor = practiceMotor('brindle-12')
let reference: FitDocument
let plan: ShortTest
let sample: FitDocument

beforeAll(() => {
  reference = referenceFit(motor, 3)
  plan = shortTestFor(motor, reference, 2)
  sample = identified('sample', driveShortTest(motor, plan, 5))
}, 60_000)

const limit = (quantity: string, share: number): ResolvedLimit => {
  const of = { ...reference.parameters, ...reference.derived }[quantity]!
  const nominal = of.value!
  return {
    quantity,
    unit: of.unit,
    band: { lower: nominal * (1 - share), upper: nominal * (1 + share) },
    nominal,
    poolSigma: null,
    atVolt: typeof of.atVolt === 'number' ? of.atVolt : null,
  }
}

describe('a short test planned from a reference', () => {
  test('drives for at most ten seconds: locked, then both directions, each from a start to a stop', () => {
    expect(plan.drivenSec).toBeLessThanOrEqual(SHORT_TEST_SEC)
    expectRelative(
      plan.parts.reduce((sum, part) => sum + drivenSec(part.plan), 0),
      plan.drivenSec,
      1e-9,
    )
    expect(plan.parts.map(part => part.plan.kind)).toEqual([
      'locked-rotor',
      'locked-rotor',
      'coast-down',
      'coast-down',
    ])
    for (const { plan: each } of plan.parts) {
      expect(each.expectedPeakAmp).toBeLessThanOrEqual(each.guard!.limits.currentAmp)
      expect(each.steps.at(-1)!.bridge).toBe('coast')
    }
    const heat = plan.parts.reduce((sum, part) => sum + part.plan.expectedRiseKelvin!, 0)
    expect(heat).toBeLessThanOrEqual(30)
  })

  test('determines every quantity that a full set determines, near the same value', () => {
    for (const name of ['inductance', 'backEmfConstant', 'coulombTorque', 'inertia'] as const) {
      expectRelative(sample.parameters[name].value!, reference.parameters[name].value!, 0.01)
    }
    expectRelative(
      sample.parameters.resistance.value!,
      reference.parameters.resistance.value!,
      0.06,
    )
  }, 30_000)

  test('shows the difference between the directions', () => {
    const { startingVoltage, currentDifference, speedDifference } = sample.derived
    expect(startingVoltage).toBeUndefined()
    // Friction differs by twice `directionShare` between the directions.
    expectRelative(currentDifference!.value!, 2 * motor.friction.directionShare, 0.35)
    expect(Math.abs(speedDifference!.value!)).toBeLessThan(0.02)
  })

  test('shows the starting voltage where that is wanted', () => {
    const started = identified(
      'started',
      driveShortTest(motor, shortTestFor(motor, reference, 1, true), 6),
    )
    const { startingVoltage } = started.derived
    // By the motor file: V = V_b tanh(i/I_b) + R i where k i overcomes friction, and at most cogging too.
    const { dropVolt, kneeAmp, contactOhm } = motor.brush
    const voltFor = (torque: number) => {
      const amp = torque / motor.magnet.backEmfConstantVsPerRad
      return dropVolt * Math.tanh(amp / kneeAmp) + (motor.winding.copperOhm + contactOhm) * amp
    }
    const { staticNm } = motor.friction
    expect(startingVoltage!.value!).toBeGreaterThan(voltFor(0.9 * staticNm))
    expect(startingVoltage!.value!).toBeLessThan(
      voltFor(1.1 * (staticNm + motor.cogging.amplitudeNm)),
    )
  }, 30_000)

  test('refuses a reference of which too little is known, naming it', () => {
    const bare = structuredClone(reference)
    bare.parameters.inertia = { ...bare.parameters.inertia, value: null }
    const known = knownFromFit(bare, 12, 0)
    expect(known.ok ? '' : known.error).toContain('has no rotor inertia')
  })

  test('refuses a motor that needs longer than ten seconds', () => {
    const slow = structuredClone(reference)
    slow.parameters.inertia = {
      ...slow.parameters.inertia,
      value: 100 * slow.parameters.inertia.value!,
    }
    const part = plan.parts.at(-1)!.plan
    const planned = planShortTest({
      reference: slow,
      voltageVolt: 12,
      positions: 1,
      withStart: false,
      rig: {
        model: '',
        serialNumber: '',
        simulated: true,
        channels: [],
        channelTexts: [],
        ratesHz: [5000],
        reversible: true,
        limits: {
          driveVolt: 15,
          currentAmp: 30,
          speedRadPerSec: null,
          busVolt: null,
          stallSec: 1,
          longestDriveSec: 10,
        },
        supplyVolt: 12,
        ambientCelsius: 20,
        noiseAmp: null,
        noiseRadPerSec: null,
        pwmHz: null,
      },
      limits: part.guard!.limits,
      conditions: part.conditions,
      heatJPerKelvin: 1000,
    })
    expect(planned.ok ? '' : planned.error).toContain('more than 10 s')
  })
})

describe('the uncertainty told beforehand', () => {
  const predict = (limits: ResolvedLimit[], earlier: FitDocument[][] = [], withStart = false) =>
    predictUncertainties(
      limits,
      {
        reference,
        referenceEffort: { positions: 6, turningSec: 6, withStart: false },
        shortEffort: { positions: 2, turningSec: 5, withStart },
        earlier,
      },
      DEFAULT_DECISION_RULE,
    )

  test('is of the size that the test then has', () => {
    for (const quantity of ['coulombTorque', 'backEmfConstant', 'noLoadCurrent']) {
      const told = predict([limit(quantity, 0.1)])[0]!.standardUncertainty!
      const then = { ...sample.parameters, ...sample.derived }[quantity]!.standardUncertainty!
      expect(told / then, quantity).toBeGreaterThan(0.25)
      expect(told / then, quantity).toBeLessThan(4)
    }
  })

  test('says what a stair for the starting voltage costs', () => {
    const wanted = [limit('coulombTorque', 0.05), limit('backEmfConstant', 0.05)]
    const [friction, constant] = predict(wanted)
    const [spoilt, spared] = predict(wanted, [], true)
    expect(spoilt!.standardUncertainty).toBeGreaterThan(3 * friction!.standardUncertainty!)
    expect(spared).toEqual(constant)
  })

  test('warns where the test cannot decide, and not where it can', () => {
    const [narrow, wide] = predict([limit('resistance', 0.01), limit('resistance', 0.2)])
    expect(narrow!.warning).toContain('cannot decide')
    expect(narrow!.uncertaintyRatio).toBeLessThan(1)
    expect(wide!.warning).toBe('')
    expect(wide!.passShare).toBeGreaterThan(0.99)
  })

  test('rests on earlier short tests once there are three', () => {
    const told = predict([limit('coulombTorque', 0.1)], [[sample], [sample], [sample]])[0]!
    expect(told.basis).toBe('3 short tests before')
    const asJudged = sample.parameters.coulombTorque
    expect(told.standardUncertainty).toBeGreaterThanOrEqual(asJudged.standardUncertainty!)
  })

  test('entries by hand need none, unknown quantities are said', () => {
    const told = predict([
      { ...limit('resistance', 0.1), quantity: 'insulation', nominal: null },
      { ...limit('resistance', 0.1), quantity: 'startingVoltage', nominal: 1 },
    ])
    expect(told[0]!.basis).toBe('typed in by hand')
    expect(told[1]!.warning).toContain('nothing is known')
  })
})

test('two positions that happen to agree do not make the resistance certain', () => {
  expect(lockedPositions(sample)).toBe(2)
  const wide = allowForPositions(sample, 0.04)
  const { value, standardUncertainty } = wide.parameters.resistance
  // s R/√n, by hand.
  expectRelative(standardUncertainty!, (0.04 * value!) / Math.SQRT2, 1e-9)
  expect(wide.derived.stallCurrent!.standardUncertainty).toBeGreaterThan(
    sample.derived.stallCurrent!.standardUncertainty!,
  )
  expect(allowForPositions(sample, null)).toBe(sample)
})
