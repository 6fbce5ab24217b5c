import { describe, expect, test } from 'vitest'
import { parseDrive } from '../../src/contract/drive-document.ts'
import type { MotorEstimate } from '../../src/contract/motor-estimate.ts'
import { frequencyForRippleHz, rippleCurrentAmp } from '../../src/drive/pwm-ripple.ts'
import { adiabaticStallSec } from '../../src/drive/stall-time-findings.ts'
import { withstand } from '../../src/drive/withstand.ts'
import { expectRelative } from '../support/expect-relative.ts'

describe('ripple current against textbook examples', () => {
  test.each([
    {
      volt: 200,
      ohm: 4,
      henry: 0.006,
      duty: 0.5,
      hertz: 1000,
      ripple: 8.2570206462,
      source:
        'B. R. Gupta, V. Singhal, Introduction to Electric Drives, ex. 4.6: 29.13 − 20.87 A; digits recomputed',
    },
    {
      volt: 100,
      ohm: 0.5,
      henry: 0.001,
      duty: 1 / 3,
      hertz: 1000 / 3,
      ripple: 64.03133357,
      source: 'same, ex. 4.11: 101.3 − 37.3 A; digits recomputed',
    },
    {
      volt: 220,
      ohm: 10,
      henry: 0.0155,
      duty: 0.5,
      hertz: 5000,
      ripple: 0.70943136,
      // Bipolar or not, the back-EMF of 20 V leaves the ripple alone.
      source:
        'J. S. Katre, Introduction to Electric Drives, ex. 6.6.6: 0.709 A for 220 V; digits recomputed',
    },
  ])('$ripple A ($source)', e => {
    const swingVolt = e.volt
    expectRelative(
      rippleCurrentAmp({
        swingVolt,
        resistanceOhm: e.ohm,
        inductanceHenry: e.henry,
        pwmHz: e.hertz,
        duty: e.duty,
      }),
      e.ripple,
      1e-8,
    )
  })

  test('150 Hz for 10 A at a quarter duty (Gupta and Singhal, ex. 4.5) follows from the ripple at low resistance', () => {
    expectRelative(
      rippleCurrentAmp({
        swingVolt: 400,
        resistanceOhm: 1e-6,
        inductanceHenry: 0.05,
        pwmHz: 150,
        duty: 0.25,
      }),
      10,
      1e-6,
    )
    // At half duty the same ripple takes 4/3 of the product d(1 − d).
    expectRelative(frequencyForRippleHz(400, 0.05, 10), 200, 1e-12)
  })
})

const estimate: MotorEstimate = {
  motor: 'invented',
  referenceTemperatureCelsius: 20,
  names: ['resistance', 'inductance', 'backEmfConstant', 'torqueConstant', 'brushDrop', 'inertia'],
  values: [1, 1e-3, 0.05, 0.05, 1, 1e-4],
  covariance: [1e-4, 1e-10, 1e-8, 1e-8, 1e-2, 1e-12].map((v, i, all) =>
    all.map((_, j) => (i === j ? v : 0)),
  ),
}

function drive(changes: object = {}) {
  const parsed = parseDrive({
    supply: { lowestVolt: 20, highestVolt: 25 },
    bridge: { pathResistanceOhm: 0.1, pwmHz: 20_000, edgeSec: 1e-7 },
    dcLink: { capacitanceFarad: 1e-3, esrOhm: 0.02, loopInductanceHenry: 2e-8, ratedVolt: 35 },
    ambient: { lowestCelsius: 20, highestCelsius: 40 },
    ...changes,
  })
  if (!parsed.ok) throw new Error(parsed.error)
  return parsed.value
}

const finding = (id: string, d = drive(), heat: number | null = null) =>
  withstand(estimate, d, heat).find(f => f.id === id)!

describe('findings, by hand', () => {
  test('stall current cold: (25 − 1)/(1 + 0.1) A, with the uncertainty of R and V_b', () => {
    const { value, standardUncertainty } = finding('stallCurrentCold')
    expectRelative(value!, 24 / 1.1, 1e-12)
    // u² = (24/1.1² · 0.01)² + (0.1/1.1)²
    expectRelative(standardUncertainty!, Math.hypot((24 / 1.21) * 0.01, 0.1 / 1.1), 1e-3)
  })

  test('hot: R at 130 °C is (234.5 + 130)/(234.5 + 20) times that at 20 °C', () => {
    expectRelative(finding('stallCurrentHot').value!, 24 / (364.5 / 254.5 + 0.1), 1e-12)
  })

  test('a reversal is twice the stall current less the drops; a single-direction drive has none', () => {
    expectRelative(finding('reversalCurrent').value!, 48 / 1.1, 1e-12)
    expect(finding('reversalCurrent', drive({ quadrants: 2 })).reason).toBe(
      'the drive does not reverse',
    )
  })

  test('rail voltage: ½·1e-4·(24/0.05)² J into 1 mF on 25 V', () => {
    expectRelative(finding('brakingEnergy').value!, 11.52, 1e-12)
    expectRelative(finding('railVoltage').value!, Math.sqrt(625 + 23_040), 1e-12)
    expectRelative(finding('capacitanceForRail').value!, 23.04 / (35 ** 2 - 625), 1e-12)
    expect(
      finding(
        'railVoltage',
        drive({ supply: { lowestVolt: 20, highestVolt: 25, sinksCurrent: true } }),
      ).value,
    ).toBeNull()
  })

  test('link ripple: half the motor current, and I/(4 C f) + I ESR', () => {
    const amp = 24 / 1.1
    expectRelative(finding('linkRippleCurrent').value!, amp / 2, 1e-12)
    expectRelative(finding('linkRippleVoltage').value!, amp * (1 / 80 + 0.02), 1e-12)
  })

  test('a current limit bounds what the bridge carries, and its blanking lets the current past it', () => {
    const limited = drive({ currentLimit: { limitAmp: 5, blankingSec: 2e-6 }, quadrants: 1 })
    expectRelative(finding('conductionLoss', limited).value!, 2.5, 1e-12)
    expectRelative(finding('peakBehindLimit', limited).value!, 5 + 25 * 2e-3, 1e-12)
    expectRelative(finding('edgeOvershoot', limited).value!, (2e-8 * 5) / 1e-7, 1e-12)
  })

  test('stall time by stepping the heat equation', () => {
    // dT/dt = I² R(T)/C in steps of a millisecond.
    let celsius = 40
    let sec = 0
    for (; celsius < 130; sec += 1e-3) celsius += (1e-3 * 100 * ((234.5 + celsius) / 274.5)) / 20
    expectRelative(adiabaticStallSec(20, 10, 1, 40, 130), sec, 1e-3)
    expect(finding('stallTime').reason).toContain('heat capacity is not known')
    expect(finding('stallTime', drive(), 20).value).toBeGreaterThan(0)
  })

  test('a motor without an inductance leaves the ripple untold', () => {
    const without = {
      ...estimate,
      names: estimate.names.filter(n => n !== 'inductance'),
      values: [1, 0.05, 0.05, 1, 1e-4],
    }
    const ripple = withstand(
      { ...without, covariance: without.values.map(() => without.values.map(() => 0)) },
      drive(),
      null,
    ).find(f => f.id === 'rippleCurrent')!
    expect(ripple.value).toBeNull()
    expect(ripple.reason).toBe('inductance of the motor is not determined')
  })
})

describe('a drive file', () => {
  test.each([
    [
      { supply: { lowestVolt: 30, highestVolt: 25 } },
      'supply.lowestVolt: 30 is above supply.highestVolt 25',
    ],
    [{ bridge: { pathResistanceOhm: -1, pwmHz: 1 } }, 'bridge.pathResistanceOhm'],
    [{ quadrants: 3 }, 'quadrants'],
    [{ bridg: {} }, 'bridg'],
  ])('%j is refused by its key path', (changes, message) => {
    expect(() => drive(changes)).toThrow(message)
  })
})
