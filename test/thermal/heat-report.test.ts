import { describe, expect, test } from 'vitest'
import { heatDocument } from '../../src/contract/heat-document.ts'
import { practiceHeatingRun } from '../../src/practice-rig/heating-run.ts'
import type { TestRun } from '../../src/records/test-run.ts'
import type { HeatOrder } from '../../src/thermal/heat-order.ts'
import { identifyHeat } from '../../src/thermal/heat-report.ts'
import { insulationClass } from '../../src/thermal/insulation.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { practiceMotor } from '../support/practice.ts'

const classB = insulationClass('B')
const order: HeatOrder = {
  motor: 'm',
  insulation: classB.ok ? classB.value : (undefined as never),
  ambientCelsius: 40,
  frictionWatt: 0,
  stall: { volt: 10 },
  brushDrop: null,
  contactOhm: null,
  backEmfConstant: null,
  torqueConstant: null,
  dragNm: 0,
  declaredMagnets: null,
  warmConstants: [],
}

function report(run: TestRun, changes: Partial<HeatOrder> = {}) {
  const found = identifyHeat(run, { ...order, ...changes })
  if (!found.ok) throw new Error(found.error)
  return heatDocument.parse(found.value)
}

const refusal = (run: TestRun, changes: Partial<HeatOrder> = {}) => {
  const found = identifyHeat(run, { ...order, ...changes })
  return found.ok ? '' : found.error
}

const peppercorn = practiceMotor('peppercorn-3')
const whole = practiceHeatingRun(peppercorn, 11)

describe('a heating and cooling run of a practice motor', () => {
  const document = report(whole)
  const { thermal } = peppercorn
  const truths = {
    windingToHousing: thermal.windingToHousingKPerW,
    housingToAmbient: thermal.housingToAmbientKPerW,
    windingHeat: thermal.windingJPerK,
    housingHeat: thermal.housingJPerK,
    windingTimeConstant: thermal.windingToHousingKPerW * thermal.windingJPerK,
    housingTimeConstant:
      thermal.housingToAmbientKPerW * (thermal.windingJPerK + thermal.housingJPerK),
  }

  test.each(Object.entries(truths))('tells %s (truth of the practice motor %d)', (name, truth) => {
    const got = document.numbers[name as keyof typeof truths]
    expect(got.status).toBe('determined')
    expectRelative(got.value!, truth, 0.08)
    expect(Math.abs(got.value! - truth)).toBeLessThan(3 * got.standardUncertainty!)
    expect(got.standardUncertainty!).toBeLessThan(0.06 * truth)
    expect(got.lower95!).toBeLessThan(got.value!)
  })

  test('follows every reading, and says how warm it became', () => {
    expect(document.goodness.largestResidualKelvin).toBeLessThan(1)
    expect(document.highestWindingCelsius).toBeGreaterThan(70)
    expect(document.course.timeSec.length).toBe(document.goodness.readings)
  })

  test('gives current and times for the class, with what they rest on', () => {
    const { continuousCurrent, stallTimeCold, stallTimeWarm, continuousTorque } = document.limits
    expect(continuousCurrent.status).toBe('determined')
    expect(stallTimeWarm.value!).toBeLessThan(stallTimeCold.value!)
    expect(continuousTorque).toMatchObject({ status: 'not-determined', value: null })
    expect(document.limitsFor).toMatchObject({ insulationClass: 'B', meanLimitCelsius: 120 })
    expect(document.cautions.length).toBeGreaterThan(1)
  })

  test('the known brush drop and contact make it no worse', () => {
    const { brush } = peppercorn
    const known = report(whole, {
      brushDrop: { value: brush.dropVolt, standardUncertainty: 2e-3, kneeAmp: brush.kneeAmp },
      contactOhm: brush.contactOhm,
    })
    expectRelative(known.numbers.housingToAmbient.value!, thermal.housingToAmbientKPerW, 0.03)
    expect(known.numbers.housingToAmbient.standardUncertainty!).toBeLessThan(
      document.numbers.housingToAmbient.standardUncertainty!,
    )
  })
})

describe('what a run cannot tell', () => {
  test('shorter than the housing: nothing of the housing, but the winding', () => {
    const document = report(practiceHeatingRun(peppercorn, 12, { heatSec: 70, coolSec: 70 }))
    expect(document.numbers.windingHeat.status).toBe('determined')
    expectRelative(document.numbers.windingHeat.value!, 1.1, 0.1)
    for (const name of ['housingToAmbient', 'housingTimeConstant', 'housingHeat'] as const) {
      expect(document.numbers[name]).toMatchObject({ status: 'not-determined', value: null })
      expect(document.numbers[name].reason).toContain('heat')
    }
    expect(document.limits.continuousCurrent.status).toBe('not-determined')
    expect(document.limits.stallTimeCold.status).toBe('determined')
  })

  test('hardly any warming is refused with what to do', () => {
    expect(
      refusal(practiceHeatingRun(peppercorn, 13, { heatSec: 60, coolSec: 60, heatWatt: 0.05 })),
    ).toMatch(/warmed by .* K only; heat with more current/)
  })

  test('without time, without current, all turning', () => {
    const { recording } = whole
    expect(refusal({ ...whole, recording: { ...recording, timeSec: null } })).toContain(
      'time column',
    )
    const { current: _, ...others } = recording.columns
    expect(refusal({ ...whole, recording: { ...recording, columns: others } })).toContain(
      'voltage and current',
    )
    const speed = new Float64Array(recording.sampleCount).fill(100)
    const turning = { ...recording, columns: { ...recording.columns, speed } }
    expect(refusal({ ...whole, recording: turning })).toContain('stop the shaft')
  })

  test('surroundings as hot as the class leave no current', () => {
    const { limits } = report(whole, { ambientCelsius: 120 })
    expect(limits.continuousCurrent.reason).toContain('surroundings')
    expect(limits.stallTimeCold.reason).toContain('surroundings')
  })
})

describe('magnets', () => {
  const constant = (celsius: number, value: number) => ({
    celsius,
    celsiusUncertainty: 1,
    constant: { value, standardUncertainty: 1e-6, degreesOfFreedom: 20 },
  })

  test('k at two temperatures gives the drop: −0.2 %/K, ferrite (Modelica Standard Library)', () => {
    const { magnets } = report(whole, {
      warmConstants: [constant(20, 0.0345), constant(70, 0.0345 * 0.9)],
    })
    expect(magnets.basis).toBe('measured')
    expectRelative(magnets.perKelvin!, -2e-3, 1e-6)
    expect(magnets.standardUncertainty!).toBeGreaterThan(0)
    expect(magnets.fluxRatioAtLimit!).toBeLessThan(0.95)
  })

  test('too near each other, or one alone: a word, and the declared kind where there is one', () => {
    const near = [constant(20, 0.0345), constant(25, 0.0343)]
    expect(report(whole, { warmConstants: near }).magnets.reason).toContain('over 5 K only')
    const declared = report(whole, {
      declaredMagnets: { perKelvin: -1.1e-3, standardUncertainty: 1e-4 },
      torqueConstant: {
        value: 0.002,
        standardUncertainty: 1e-5,
        degreesOfFreedom: 50,
        magnetCelsius: 23,
      },
    })
    expect(declared.magnets.basis).toBe('declared')
    const { continuousTorque, continuousCurrent } = declared.limits
    expect(continuousTorque.value!).toBeLessThan(0.002 * continuousCurrent.value!)
    expect(continuousTorque.value!).toBeGreaterThan(0.9 * 0.002 * continuousCurrent.value!)
  })
})
