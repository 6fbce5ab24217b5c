import { expect, test } from 'vitest'
import { identifyMotor } from '../../src/identify/identify-motor.ts'
import type { TestRun } from '../../src/records/test-run.ts'
import { textbookRuns, typicalMotor } from '../support/simulate-motor.ts'

const motor = typicalMotor(20, 12)
const noise = { volt: 6e-3, amp: 4e-3, radPerSec: 0.3 }

/** A rotor held at an angle where the brushes drop more or less than they do on the mean of a turn. */
const heldAt = (id: number, angle: number, drop: number): TestRun => {
  const runs = textbookRuns({ ...motor, dropVolt: drop * motor.dropVolt }, 12, 5000, {
    noise,
    seed: id,
  })
  const { conditions } = runs[0]!
  return { ...runs[0]!, id, conditions: { ...conditions, shaftAngleRad: angle } }
}

test('a brush drop that differs between locked angles widens the constant and the drop to hold the truth', () => {
  const turning = textbookRuns(motor, 12, 5000, { noise }).slice(1)
  const runs = [heldAt(11, 0, 1.04), heldAt(12, 0.4, 1), heldAt(13, 0.9, 1.06), ...turning]
  const fit = identifyMotor(
    'uneven drop',
    runs,
    { fixed: {}, freed: [], referenceTemperatureCelsius: 20 },
    () => true,
  )
  if (!fit.ok) throw new Error(fit.error.text)
  const { backEmfConstant, brushDrop } = fit.value.parameters
  expect(backEmfConstant.lower95).toBeLessThan(motor.k)
  expect(backEmfConstant.upper95).toBeGreaterThan(motor.k)
  expect(brushDrop.lower95).toBeLessThan(motor.dropVolt)
  expect(brushDrop.upper95).toBeGreaterThan(motor.dropVolt)
  const sources = fit.value.budget.brushDrop!.map(({ source }) => source)
  expect(sources).toContain('brush drop from angle to angle, 3 seen')
})
