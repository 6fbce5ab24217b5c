import { describe, expect, test } from 'vitest'
import { identifyMotor } from '../../src/identify/identify-motor.ts'
import { textbookFit } from '../../src/identify/textbook-fit.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { randomCase } from '../support/random-motors.ts'
import { asRun, type IdealStep, simulateMotor, typicalMotor } from '../support/simulate-motor.ts'

const SETTINGS = { fixed: {}, freed: [], referenceTemperatureCelsius: 20 }
const motor = typicalMotor(60, 24)
const noise = { volt: 5e-3, amp: 5e-3, radPerSec: 0.3 }
const on = (volt: number, sec: number): IdealStep => ({ bridge: 'drive', volt, sec })
const open = (sec: number): IdealStep => ({ bridge: 'coast', volt: 0, sec })
const steps = [on(0, 0.02), on(12, 0.5), on(24, 0.5), on(-12, 0.5), on(-24, 0.5), open(0.8)]

/** A free run with reversals, sampled so many times within L/R. */
function fitAt(samplesInTimeConstant: number) {
  const rateHz = Math.round((samplesInTimeConstant * motor.ohm) / motor.henry)
  const run = asRun(1, 'free-run', simulateMotor(motor, steps, rateHz, { noise }))
  const fit = textbookFit('mill no. 7', [run], SETTINGS)
  if (!fit.ok) throw new Error(fit.error.text)
  return fit.value.parameters
}

describe('free runs without a locked rotor', () => {
  test('quick samples tell the inductance', () => {
    const { inductance, resistance } = fitAt(8)
    expect(inductance.status).toBe('determined')
    expectRelative(inductance.value!, motor.henry, 0.05)
    expectRelative(resistance.value!, motor.ohm, 0.02)
  })

  test.each([0.5, 1, 1.5])(
    '%d samples within L/R do not, and lend the resistance no false certainty',
    density => {
      const { inductance, resistance } = fitAt(density)
      expect(inductance).toMatchObject({ status: 'not-determined', value: null })
      expect(inductance.reason).toMatch(/fast enough for the current rise/)
      if (resistance.value === null) return
      const off = Math.abs(resistance.value - motor.ohm)
      expect(off).toBeLessThan(3 * resistance.standardUncertainty!)
    },
  )
})

test('without pulses an inductance that slow samples leave open widens nothing else', () => {
  const { motor, runs } = randomCase(118)
  const fit = identifyMotor('slowly sampled', runs, SETTINGS, () => true)
  if (!fit.ok) throw new Error(fit.error.text)
  const { inductance, resistance, brushDrop } = fit.value.parameters
  expect(inductance.status).toBe('not-determined')
  for (const [found, truth, share] of [
    [resistance, motor.resistanceOhm, 0.001],
    [brushDrop, motor.brushDropVolt, 0.01],
  ] as const) {
    expect(found.standardUncertainty!).toBeLessThan(share * truth)
    expect(Math.abs(found.value! - truth)).toBeLessThan(4 * found.standardUncertainty!)
  }
})
