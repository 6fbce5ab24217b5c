import { describe, expect, test } from 'vitest'
import { createPlant } from '../../src/practice-rig/create-plant.ts'
import { REALISTIC, withImperfections } from '../../src/practice-rig/imperfections.ts'
import { continuousCurrentAmp, steadyAt } from '../../src/thermal/continuous-current.ts'
import type { HeatModel } from '../../src/thermal/heat-course.ts'
import {
  highestMeanCelsius,
  INSULATION_CLASSES,
  insulationClass,
} from '../../src/thermal/insulation.ts'
import { stallTimeSec } from '../../src/thermal/stall-time.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { losslessBench, practiceMotor } from '../support/practice.ts'

const motor = practiceMotor('hazelnut-24')
const { thermal, winding, brush } = motor
const startOhm = winding.copperOhm + brush.contactOhm
const model: HeatModel = {
  ...thermal,
  startOhm,
  steadyShare: brush.contactOhm / startOhm,
  brushDropVolt: brush.dropVolt,
  brushKneeAmp: brush.kneeAmp,
  backEmfVsPerRad: 0,
}

/** The practice motor locked at 40 degC ambient, with nothing between supply and terminals. */
function lockedPlant() {
  const bench = losslessBench(motor, 30)
  const switches = withImperfections(REALISTIC, {
    windingAngle: false,
    contactNoise: false,
    supplyResistance: false,
  })
  const plant = createPlant(motor, bench, 1, { switches })
  plant.setAmbient(40)
  plant.setTemperatures(40, 40)
  plant.setShaft({ hold: 'locked', angleRad: 0 })
  return plant
}

describe('insulation classes', () => {
  test.each([
    ['A', 105, 100],
    ['E', 120, 115],
    ['B', 130, 120],
    ['F', 155, 145],
    ['H', 180, 165],
  ])(
    'class %s: %d degC (IEC 60085), mean by resistance 40 + the rise of IEC 60034-1: %d degC',
    (name, hottest, mean) => {
      const found = insulationClass(name)
      if (!found.ok) throw new Error(found.error)
      expect(found.value.hottestCelsius).toBe(hottest)
      expect(highestMeanCelsius(found.value)).toBe(mean)
    },
  )

  test('an unknown class is refused with those that are known', () => {
    const found = insulationClass('X')
    expect(found.ok ? '' : found.error).toContain(INSULATION_CLASSES.join(', '))
  })
})

describe('continuous current', () => {
  const duty = { startCelsius: 20, limitCelsius: 120, ambientCelsius: 40, frictionWatt: 0 }

  test('holds the winding of the practice motor at its limit', () => {
    const amp = continuousCurrentAmp(model, duty)
    const plant = lockedPlant()
    const copper = (winding.copperOhm * (234.5 + 120)) / 254.5
    plant.setBridge(
      'drive',
      (copper + brush.contactOhm) * amp + brush.dropVolt * Math.tanh(amp / brush.kneeAmp),
    )
    plant.leap(5500)
    expectRelative(plant.state().currentAmp, amp, 2e-3)
    expectRelative(plant.state().windingCelsius, 120, 2e-3)
    expectRelative(steadyAt(model, duty, amp).housingCelsius, plant.state().housingCelsius, 2e-3)
  })

  test('without brush drop and contact it is √(ΔT/(R_cu (R_1 + R_2)))', () => {
    const bare = { ...model, steadyShare: 0, brushDropVolt: 0, startOhm: 5 }
    const hotOhm = (5 * (234.5 + 120)) / 254.5
    expectRelative(continuousCurrentAmp(bare, duty), Math.sqrt(80 / (hotOhm * (5.5 + 9))), 1e-12)
  })

  test('friction takes its share, and all of it at last', () => {
    const still = continuousCurrentAmp(model, duty)
    expect(continuousCurrentAmp(model, { ...duty, frictionWatt: 2 })).toBeLessThan(still)
    expect(continuousCurrentAmp(model, { ...duty, frictionWatt: 80 / 9 })).toBe(0)
  })
})

describe('time in a stall', () => {
  const at = (celsius: number) => ({ windingCelsius: celsius, housingCelsius: celsius })

  test('without loss of heat: C (τ + T₀)/(I² R₀) ln((τ + T₁)/(τ + T₀)) (∫ dT/R(T), by hand)', () => {
    const sealed = {
      ...model,
      windingToHousingKPerW: 1e7,
      steadyShare: 0,
      brushDropVolt: 0,
      startOhm: 5,
    }
    const got = stallTimeSec(sealed, { amp: 4 }, at(20), 20, 20, 120)
    expectRelative(got, ((9 * 254.5) / (16 * 5)) * Math.log(354.5 / 254.5), 1e-4)
  })

  test('is that of the practice motor at a constant voltage', () => {
    const plant = lockedPlant()
    plant.setBridge('drive', 12)
    while (plant.state().windingCelsius < 120) plant.leap(plant.timeSec + 0.02)
    const got = stallTimeSec(model, { volt: 12 }, at(40), 20, 40, 120)
    expectRelative(got, plant.timeSec, 5e-3)
  })

  test('a current below the continuous one never gets there', () => {
    expect(stallTimeSec(model, { amp: 0.5 }, at(40), 20, 40, 120)).toBe(Number.POSITIVE_INFINITY)
  })

  test('a winding at its limit has no time left', () => {
    expect(stallTimeSec(model, { amp: 1 }, at(120), 20, 40, 120)).toBe(0)
  })
})
