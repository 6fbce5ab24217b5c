import { describe, expect, test } from 'vitest'
import { rigSample, SWITCHED } from '../support/coverage-sample.ts'
import { identifyMotor } from '../../src/identify/identify-motor.ts'
import { defaultBench } from '../../src/practice-rig/default-bench.ts'
import { practiceSuite } from '../../src/practice-rig/practice-run.ts'
import { practiceTruth } from '../../src/practice-rig/practice-truth.ts'
import { REALISTIC } from '../../src/practice-rig/imperfections.ts'
import { practiceMotor } from '../support/practice.ts'

/**
 * An ironless motor whose current swings by amperes between the pulses: its carbon brushes, which drop most of their
 * voltage at a tenth of that, take up only part of it. Common practice, no source: low inductance and PWM go badly together.
 */
describe('a bridge that switches', () => {
  test('k, L and J of a motor of little inductance are found', () => {
    const { parameters } = rigSample(`coriander-48${SWITCHED}`, 1)
    const of = (name: string) => parameters.find(each => each.name === name)!
    expect(Math.abs(of('backEmfConstant').error!)).toBeLessThan(0.002)
    expect(Math.abs(of('inductance').error!)).toBeLessThan(0.05)
    expect(Math.abs(of('inertia').error!)).toBeLessThan(0.02)
    for (const name of ['resistance', 'inductance', 'backEmfConstant']) {
      expect(of(name).held, name).toBe(true)
    }
  })

  test('its frequency is what tells: without it the back-EMF constant comes out low', () => {
    const motor = practiceMotor('coriander-48')
    const runs = practiceSuite(motor, 1, { bench: defaultBench(motor, { bridge: 'pwm' }) })
    const untold = runs.map(run => ({
      ...run,
      conditions: { ...run.conditions, switchingHz: null },
    }))
    const settings = { fixed: {}, freed: [], referenceTemperatureCelsius: 20 }
    const fit = identifyMotor('untold', untold, settings, () => true)
    const truth = practiceTruth(motor, REALISTIC.imperfections).backEmfConstant.value
    if (!fit.ok) throw new Error(fit.error.text)
    expect(fit.value.parameters.backEmfConstant.value! / truth).toBeLessThan(0.996)
  })
})
