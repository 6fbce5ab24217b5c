import { describe, expect, test } from 'vitest'
import { NO_GUARDS, type Plant } from '../../src/practice-rig/plant.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { cleanPlant, losslessBench, textbookMotor } from '../support/practice.ts'

const RPM = Math.PI / 30
const companion = 'as printed by the FOSSEE textbook companion notebook, book not opened'

/** The plant with every imperfection off against published examples and closed formulas. */
describe('winding at standstill', () => {
  const locked = (ohm: number, henry: number, volt: number): Plant => {
    const motor = textbookMotor({ ohm, henry, k: 1, inertia: 1 })
    const plant = cleanPlant(motor, losslessBench(motor, volt))
    plant.setShaft({ hold: 'locked', angleRad: 0 })
    plant.setBridge('drive', volt)
    return plant
  }

  test.each([
    { ohm: 20, henry: 0.1, volt: 60, atSec: 0.01, amp: 2.5939941503, printed: '2.59', of: '17.7' },
    { ohm: 10, henry: 0.04, volt: 120, atSec: 0.004, amp: 7.5854467, printed: '7.59', of: '17.8' },
    { ohm: 15, henry: 3, volt: 120, atSec: 0.3, amp: 6.214958719, printed: '6.21', of: '17.9' },
  ])(
    `current rises to $printed A (Bird, Electrical Circuit Theory and Technology, Example $of, ${companion}; digits recomputed)`,
    row => {
      const plant = locked(row.ohm, row.henry, row.volt)
      plant.advance(row.atSec, NO_GUARDS)
      expectRelative(plant.state().currentAmp, row.amp, 1e-6)
    },
  )

  test(`pulsed at 1 kHz between 20.87 and 29.13 A (Gupta & Singhal, Example 4.6, p. 141, ${companion}; digits recomputed)`, () => {
    const motor = textbookMotor({ ohm: 4, henry: 0.006, k: 1, inertia: 1 })
    const plant = cleanPlant(motor, losslessBench(motor, 200, { kind: 'pwm', pwmHz: 1000 }))
    plant.setShaft({ hold: 'locked', angleRad: 0 })
    plant.setBridge('drive', 100)
    plant.advance(0.05, NO_GUARDS)
    const amps: number[] = []
    for (let n = 1; n <= 200; n++) {
      plant.advance(0.05 + n * 5e-6, NO_GUARDS)
      amps.push(plant.state().currentAmp)
    }
    expectRelative(Math.max(...amps), 29.1285103231, 1e-5)
    expectRelative(Math.min(...amps), 20.8714896769, 1e-5)
  })
})

describe('free shaft', () => {
  test(`small motor: 6 V, 4.2 ohm runs free at 12125 rpm on 14.5 mA, stalls at 1.4286 A (Kothari & Nagrath, Electric Machines, Example 7.63, ${companion})`, () => {
    const k = 0.004677462
    const motor = textbookMotor({
      ohm: 4.2,
      henry: 1e-3,
      k,
      inertia: 1e-7,
      coulomb: 0.0145 * k,
    })
    const plant = cleanPlant(motor, losslessBench(motor, 6))
    plant.setBridge('drive', 6)
    plant.advance(1, NO_GUARDS)
    expectRelative(plant.state().speedRadPerSec, 12125 * RPM, 1e-4)
    expectRelative(plant.state().currentAmp, 0.0145, 1e-4)
    plant.setShaft({ hold: 'locked', angleRad: 0 })
    plant.advance(1.1, NO_GUARDS)
    expectRelative(plant.state().currentAmp, 1.4285714, 1e-7)
    expectRelative(k * plant.state().currentAmp, 0.0066820886, 1e-6)
  })

  test('free-run speed with brush drop is (V - V_b - R i)/k, i = T/k, by hand', () => {
    const motor = textbookMotor({
      ohm: 2,
      henry: 1e-3,
      k: 0.05,
      inertia: 1e-5,
      coulomb: 0.01,
      brushVolt: 1.4,
    })
    const plant = cleanPlant(motor, losslessBench(motor, 24))
    plant.setBridge('drive', 24)
    plant.advance(1, NO_GUARDS)
    expectRelative(plant.state().currentAmp, 0.2, 1e-6)
    expectRelative(plant.state().speedRadPerSec, (24 - 1.4 - 0.4) / 0.05, 1e-6)
  })

  test('step response: 0.0999 rad/s per volt, 10 to 90 % in 1.135 s (Control Tutorials for MATLAB and Simulink, DC motor speed; parameters from memory, rise recomputed from its poles)', () => {
    const motor = textbookMotor({ ohm: 1, henry: 0.5, k: 0.01, inertia: 0.01, viscous: 0.1 })
    const plant = cleanPlant(motor, losslessBench(motor, 1))
    plant.setBridge('drive', 1)
    const final = 0.0999000999
    let low = 0
    let high = 0
    while (high === 0) {
      plant.advance(plant.timeSec + 1e-3, NO_GUARDS)
      const speed = plant.state().speedRadPerSec
      if (low === 0 && speed >= 0.1 * final) low = plant.timeSec
      if (speed >= 0.9 * final) high = plant.timeSec
    }
    expectRelative(high - low, 1.135, 2e-3)
    plant.advance(6, NO_GUARDS)
    expectRelative(plant.state().speedRadPerSec, final, 1e-4)
  })

  test(`brake through a resistor: poles 0.963 and 4.187 1/s, current starts towards twice rated (Dubey, Example 5.9, p. 84, ${companion}; digits recomputed)`, () => {
    const k = 1.9671550966
    const resistor = 0.538
    const motor = textbookMotor({ ohm: 0.08, henry: 0.12, k, inertia: 8 })
    const plant = cleanPlant(motor, losslessBench(motor, 220, { pathOhm: resistor }))
    const start = 1050 * RPM
    plant.setShaft({ hold: 'driven', speedRadPerSec: start })
    plant.setShaft({ hold: 'free' })
    plant.setBridge('brake', 0)
    const [slow, fast] = [0.96264509, 4.18735491]
    for (const t of [0.1, 0.4, 1]) {
      plant.advance(t, NO_GUARDS)
      const share = (fast * Math.exp(-slow * t) - slow * Math.exp(-fast * t)) / (fast - slow)
      expectRelative(plant.state().speedRadPerSec, start * share, 1e-3)
      expect(plant.state().currentAmp).toBeLessThan(0)
    }
  })

  test(`coasts from 1030 to 970 rpm in 36 s on 1368.75 W of friction (Theraja, Example 31.19, p. 1108, ${companion})`, () => {
    const coulomb = 1368.75 / (1000 * RPM)
    const motor = textbookMotor({ ohm: 1, henry: 0.01, k: 1, inertia: 74.88901986, coulomb })
    const plant = cleanPlant(motor, losslessBench(motor, 220))
    plant.setShaft({ hold: 'driven', speedRadPerSec: 1030 * RPM })
    plant.setShaft({ hold: 'free' })
    plant.setBridge('coast', 0)
    plant.advance(36, NO_GUARDS)
    expectRelative(plant.state().speedRadPerSec, 970 * RPM, 1e-5)
  })

  test('coast-down with dry and viscous friction follows its exponential and ends at rest', () => {
    const [coulomb, viscous, inertia, start] = [0.01, 2e-5, 1e-4, 400]
    const motor = textbookMotor({ ohm: 1, henry: 1e-3, k: 0.05, inertia, coulomb, viscous })
    const plant = cleanPlant(motor, losslessBench(motor, 24))
    plant.setShaft({ hold: 'driven', speedRadPerSec: start })
    plant.setShaft({ hold: 'free' })
    plant.setBridge('coast', 0)
    const ends = (inertia / viscous) * Math.log(1 + (viscous * start) / coulomb)
    plant.advance(ends / 2, NO_GUARDS)
    const speed =
      (start + coulomb / viscous) * Math.exp((-viscous / inertia) * (ends / 2)) - coulomb / viscous
    expectRelative(plant.state().speedRadPerSec, speed, 1e-6)
    expectRelative(plant.state().terminalVolt, 0.05 * speed, 1e-5)
    plant.advance(ends - 1e-4, NO_GUARDS)
    expect(plant.state().speedRadPerSec).toBeGreaterThan(0)
    plant.advance(ends + 1e-4, NO_GUARDS)
    expect(plant.state().speedRadPerSec).toBe(0)
  })
})
