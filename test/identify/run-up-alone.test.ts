import { describe, expect, test } from 'vitest'
import { identifyMotor } from '../../src/identify/identify-motor.ts'
import { REALISTIC } from '../../src/practice-rig/imperfections.ts'
import { practiceSuite } from '../../src/practice-rig/practice-run.ts'
import { practiceTruth } from '../../src/practice-rig/practice-truth.ts'
import { practiceMotor } from '../support/practice.ts'

const NAMES = ['resistance', 'backEmfConstant', 'torqueConstant', 'brushDrop', 'inertia'] as const

/**
 * At one voltage R, L, k and J go in proportion to V − V_b: a run-up alone hardly tells them from the drop,
 * and with ripple and noise on it nothing speaks for one.
 */
describe('a run-up alone', () => {
  test.each(['dormouse-12', 'hazelnut-24'])(
    '%s: intervals hold the truth or nothing is claimed',
    name => {
      const motor = practiceMotor(name)
      const truth = practiceTruth(motor, REALISTIC.imperfections)
      const runs = practiceSuite(motor, 3).filter(({ kind }) => kind === 'run-up')
      const fit = identifyMotor(
        name,
        runs.slice(0, 1),
        { fixed: {}, freed: [], referenceTemperatureCelsius: 20 },
        () => true,
      )
      if (!fit.ok) throw new Error(fit.error.text)
      for (const parameter of NAMES) {
        const { value, lower95, upper95, reason } = fit.value.parameters[parameter]
        if (value === null) expect(reason, parameter).toMatch(/determine/)
        else {
          expect(lower95, parameter).toBeLessThan(truth[parameter].value)
          expect(upper95, parameter).toBeGreaterThan(truth[parameter].value)
        }
      }
    },
  )
})
