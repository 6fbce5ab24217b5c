import type { FitDocument } from '../../src/contract/fit-document.ts'
import { identifyMotor } from '../../src/identify/identify-motor.ts'
import { textbookFit } from '../../src/identify/textbook-fit.ts'
import { createPlant } from '../../src/practice-rig/create-plant.ts'
import { defaultBench } from '../../src/practice-rig/default-bench.ts'
import { REALISTIC } from '../../src/practice-rig/imperfections.ts'
import { practiceSuite } from '../../src/practice-rig/practice-run.ts'
import { recordPractice } from '../../src/practice-rig/record-practice.ts'
import { planShortTest, type ShortTest } from '../../src/procedure/plan-short-test.ts'
import type { RigFacts } from '../../src/procedure/rig-facts.ts'
import { effectiveLimits } from '../../src/procedure/limits.ts'
import type { PracticeMotor } from '../../src/records/practice-motor.ts'
import { type TestRun, UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'

const RATE_HZ = 5000

/** A rig around a practice motor, as a planner sees it. */
export function rigFactsFor(motor: PracticeMotor): RigFacts {
  const bench = defaultBench(motor)
  return {
    model: 'practice',
    serialNumber: 'P1',
    simulated: true,
    channels: ['voltage', 'current', 'speed'],
    channelTexts: [],
    ratesHz: [1000, RATE_HZ, 10_000],
    reversible: true,
    limits: {
      driveVolt: bench.supply.openVolt,
      currentAmp: bench.supply.limitAmp,
      speedRadPerSec: motor.rating.speedLimitRadPerSec,
      busVolt: null,
      stallSec: 0.6,
      longestDriveSec: 10,
    },
    supplyVolt: bench.supply.openVolt,
    ambientCelsius: bench.ambientCelsius,
    noiseAmp: null,
    noiseRadPerSec: null,
    pwmHz: null,
  }
}

export function identified(name: string, runs: readonly TestRun[]): FitDocument {
  const fit = textbookFit(name, runs, { fixed: {}, freed: [], referenceTemperatureCelsius: 20 })
  if (!fit.ok) throw new Error(fit.error.text)
  return fit.value
}

/** As `fit` identifies: all runs together. */
export function jointlyIdentified(
  name: string,
  runs: readonly TestRun[],
  like: FitDocument | null = null,
): FitDocument {
  const settings = { fixed: {}, freed: [], referenceTemperatureCelsius: 20 }
  const fit = identifyMotor(name, runs, settings, () => true, like)
  if (!fit.ok) throw new Error(fit.error.text)
  return fit.value
}

/** The whole guided set of tests of an approved specimen. */
export function referenceFit(motor: PracticeMotor, seed: number, benchSeed = 1): FitDocument {
  return identified(motor.name, practiceSuite(motor, seed, { rateHz: RATE_HZ, benchSeed }))
}

export function shortTestFor(
  motor: PracticeMotor,
  reference: FitDocument,
  positions: number,
  withStart = false,
): ShortTest {
  const rig = rigFactsFor(motor)
  const limits = effectiveLimits(
    {
      motorAmp: null,
      motorVolt: motor.rating.voltageVolt,
      motorRadPerSec: null,
      supplyVolt: rig.supplyVolt,
      supplyAmp: null,
      riseKelvin: 30,
      above60VoltDeclared: true,
    },
    rig.limits,
  )
  if (!limits.ok) throw new Error(limits.error)
  const plan = planShortTest({
    reference,
    voltageVolt: motor.rating.voltageVolt,
    positions,
    withStart,
    rig,
    limits: limits.value,
    conditions: { ...UNKNOWN_CONDITIONS, ambientCelsius: rig.ambientCelsius },
    heatJPerKelvin: 0.5 * motor.thermal.windingJPerK,
  })
  if (!plan.ok) throw new Error(plan.error)
  return plan.value
}

/** The short test of a specimen by the practice rig's own physics. */
export function driveShortTest(
  motor: PracticeMotor,
  test: ShortTest,
  seed: number,
  benchSeed = 1,
): TestRun[] {
  const bench = defaultBench(motor)
  return test.parts.map(({ plan, angleRad }, index) => {
    const plant = createPlant(motor, bench, 1000 * seed + index, { switches: REALISTIC, benchSeed })
    plant.setTemperatures(bench.ambientCelsius, bench.ambientCelsius)
    if (angleRad !== null) plant.setShaft({ hold: 'locked', angleRad })
    return {
      id: index + 1,
      kind: plan.kind,
      recording: recordPractice(plant, plan.steps, Math.min(plan.rateHz, RATE_HZ)),
      conditions: { ...plan.conditions, windingCelsius: bench.ambientCelsius },
    }
  })
}
