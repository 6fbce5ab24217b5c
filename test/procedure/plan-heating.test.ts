import { describe, expect, test } from 'vitest'
import { type OperatorTest, planOperatorTest } from '../../src/procedure/plan-operator.ts'
import { SAFE_HOTTEST_CELSIUS } from '../../src/procedure/plan-heating.ts'
import { planText } from '../../src/procedure/plan-text.ts'
import type { RigFacts } from '../../src/procedure/rig-facts.ts'
import { planDurationSec } from '../../src/procedure/test-plan.ts'
import type { PracticeMotor } from '../../src/records/practice-motor.ts'
import { identifyHeat } from '../../src/thermal/heat-report.ts'
import { insulationClass } from '../../src/thermal/insulation.ts'
import { playHeating } from '../support/play-heating.ts'
import { practiceMotor } from '../support/practice.ts'
import { standInRig } from './stand-in-motor.ts'

const AIR = 23
const toy = practiceMotor('peppercorn-3')
/** A toy so small that a heating run fits into a few minutes. */
const small: PracticeMotor = {
  ...toy,
  thermal: {
    windingJPerK: 0.4,
    housingJPerK: 2,
    windingToHousingKPerW: 12,
    housingToAmbientKPerW: 20,
  },
}
/** One that is warm and cold again within seconds. */
const quick: PracticeMotor = {
  ...toy,
  thermal: {
    windingJPerK: 0.3,
    housingJPerK: 0.9,
    windingToHousingKPerW: 5,
    housingToAmbientKPerW: 5,
  },
}

const rig = (changes: Partial<RigFacts['limits']> = {}) => {
  const { limits, ...facts } = standInRig()
  return {
    ...facts,
    limits: {
      ...limits,
      driveVolt: 6,
      currentAmp: 4,
      stallSec: 3,
      longestDriveSec: 60,
      ...changes,
    },
  }
}

const asked = (changes: Partial<OperatorTest>): OperatorTest => ({
  kind: 'heating',
  voltageVolt: 1.6,
  currentLimitAmp: null,
  durationSec: 240,
  ambientCelsius: AIR,
  above60VoltDeclared: false,
  ...changes,
})

function planned(changes: Partial<OperatorTest> = {}, facts = rig()) {
  const plan = planOperatorTest(asked(changes), facts)
  if (!plan.ok) throw new Error(plan.error)
  return plan.value
}

const heatOf = (run: Parameters<typeof identifyHeat>[0]) => {
  const insulation = insulationClass('B')
  if (!insulation.ok) throw new Error(insulation.error)
  return identifyHeat(run, {
    motor: 'small',
    insulation: insulation.value,
    ambientCelsius: 40,
    frictionWatt: 0,
    stall: null,
    brushDrop: null,
    contactOhm: null,
    backEmfConstant: null,
    torqueConstant: null,
    dragNm: 0,
    declaredMagnets: null,
    warmConstants: [],
  })
}

describe('the plan', () => {
  test('pulses shorter than a stall with coast between, gentle ones first and last, as long as asked', () => {
    const plan = planned()
    expect(plan.shaft).toBe('locked')
    expect(planDurationSec(plan)).toBeCloseTo(240, 0)
    const driven = plan.steps.filter(step => step.bridge === 'drive')
    plan.steps.forEach((step, n) => {
      if (step.bridge !== 'drive') return
      expect(step.durationSec).toBeLessThan(3)
      expect(plan.steps[n - 1]!.bridge).toBe('coast')
      expect(plan.steps[n + 1]!.bridge).toBe('coast')
    })
    expect(driven[0]!.setVolt).toBeLessThan(0.5 * 1.6)
    expect(driven.at(-1)!.setVolt).toBe(driven[0]!.setVolt)
    const heating = driven.filter(step => step.setVolt === 1.6)
    expect(heating.every(step => step.thermostat !== undefined)).toBe(true)
    expect(heating[0]!.durationSec).toBeLessThan(heating.at(-1)!.durationSec)
  })

  test('the limit is the operator’s, else safe for every class; half of the rise is the mean’s', () => {
    const usual = planned().guard!
    expect(usual.thermometer!.hottestCelsius).toBe(SAFE_HOTTEST_CELSIUS)
    expect(usual.allowedMeanRiseKelvin).toBeCloseTo((SAFE_HOTTEST_CELSIUS - AIR) / 2, 9)
    const chosen = planned({ hottestCelsius: 123 })
    expect(chosen.guard!.allowedMeanRiseKelvin).toBeCloseTo(50, 9)
    for (const { thermostat } of chosen.steps) {
      if (thermostat) expect(thermostat.meanRiseKelvin).toBeLessThan(50)
    }
    expect(planText(chosen)).toMatch(/hottest coil is at 123 °C at most/)
  })

  test.each([
    [{ ambientCelsius: null }, /needs the temperature of the air/],
    [{ hottestCelsius: 40 }, /must be at least 30 K warmer/],
    [{ hottestCelsius: 300 }, /at most 220 °C/],
    [{ hottestCelsius: Number.NaN }, /at most 220 °C/],
    [{ durationSec: 5 }, /too short to warm up and cool down; at least 20 s/],
    [{ voltageVolt: null }, /needs a voltage/],
    [{ kind: 'load', hottestCelsius: 100 }, /is for a heating test/],
  ] as const)('%j is refused', (changes, text) => {
    const plan = planOperatorTest(asked(changes), rig())
    expect(plan.ok ? '' : plan.error).toMatch(text)
  })

  test('a rig that takes everything for a stall is told so', () => {
    const plan = planOperatorTest(asked({}), rig({ stallSec: 0.3 }))
    expect(plan.ok ? '' : plan.error).toMatch(/takes 0.3 s at standstill for a stall/)
  })
})

describe('played on a practice motor', { timeout: 90_000 }, () => {
  test.each([
    ['minutes', small, {}, 1],
    // Pulses as long as the winding's time constant, the housing after a few.
    ['seconds', quick, { voltageVolt: 2.4, durationSec: 45 }, 3],
    ['seconds', quick, { voltageVolt: 2.4, durationSec: 45 }, 4],
  ] as const)(
    'thermal resistances and time constants of %s are found within their intervals',
    (_, motor, changes, seed) => {
      const played = playHeating(motor, planned({ hottestCelsius: 130, ...changes }), seed)
      expect(played.trip).toBeNull()
      expect(played.longestDriveSec).toBeLessThan(3)
      const found = heatOf(played.run)
      if (!found.ok) throw new Error(found.error)
      const { numbers } = found.value
      const { thermal } = motor
      const truth = {
        windingToHousing: thermal.windingToHousingKPerW,
        housingToAmbient: thermal.housingToAmbientKPerW,
        windingHeat: thermal.windingJPerK,
        housingHeat: thermal.housingJPerK,
        windingTimeConstant: thermal.windingToHousingKPerW * thermal.windingJPerK,
        housingTimeConstant:
          thermal.housingToAmbientKPerW * (thermal.windingJPerK + thermal.housingJPerK),
      }
      for (const [name, value] of Object.entries(truth)) {
        const number = numbers[name as keyof typeof truth]
        expect(number.status, `${name}: ${number.reason}`).toBe('determined')
        // Once in twenty a 95 % interval misses; three standard uncertainties do so once in 370.
        expect(
          Math.abs(number.value! - value) / number.standardUncertainty!,
          `${name}: ${number.value} ± ${number.standardUncertainty}, is ${value}`,
        ).toBeLessThan(3)
      }
    },
  )

  test.each([1.2, 2, 3])(
    'at %d V the thermostat holds the winding below the limit, and near to it',
    voltageVolt => {
      const plan = planned({ voltageVolt, durationSec: 120 })
      const { trip, highestCelsius } = playHeating(small, plan, 4)
      const allowed = plan.guard!.allowedMeanRiseKelvin
      expect(trip).toBeNull()
      expect(highestCelsius - AIR).toBeLessThan(allowed)
      if (voltageVolt > 1.2) expect(highestCelsius - AIR).toBeGreaterThan(0.7 * allowed)
    },
  )

  test('where no thermostat acts the watch opens the bridge, not far above the limit', () => {
    const plan = planned({ voltageVolt: 3 })
    const { trip, highestCelsius } = playHeating(small, plan, 5, { deaf: true })
    expect(trip?.code).toBe('over-temperature')
    const allowed = plan.guard!.allowedMeanRiseKelvin
    // Played step by step: the step in which it trips is played to its end.
    expect(trip!.value).toBeGreaterThan(allowed)
    expect(trip!.value).toBeLessThan(1.25 * allowed)
    expect(highestCelsius).toBeGreaterThan(AIR + allowed)
  })
})
