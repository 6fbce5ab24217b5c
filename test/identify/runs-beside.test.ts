import { expect, test } from 'vitest'
import { identifyMotor } from '../../src/identify/identify-motor.ts'
import { asTable, textbookRuns, typicalMotor } from '../support/simulate-motor.ts'

test('a hand-read table beside recordings is said not to be in the fit of all runs together', () => {
  const motor = typicalMotor(20, 12)
  const noise = { volt: 6e-3, amp: 4e-3, radPerSec: 0.3 }
  const volts = [1.2, 2.4, 3.6, -1.2, -2.4]
  const table = asTable(9, 'locked-rotor', {
    voltage: Float64Array.from(volts),
    current: Float64Array.from(volts, v => (v - Math.sign(v) * motor.dropVolt) / motor.ohm),
  })
  const fit = identifyMotor(
    'with a table',
    [...textbookRuns(motor, 12, 5000, { noise }), table],
    { fixed: {}, freed: [], referenceTemperatureCelsius: 20 },
    () => true,
  )
  if (!fit.ok) throw new Error(fit.error.text)
  const said = fit.value.warnings.filter(({ code }) => code === 'not-fitted-jointly')
  expect(said).toEqual([
    expect.objectContaining({ run: 9, text: expect.stringMatching(/^a table of steady readings/) }),
  ])
})
