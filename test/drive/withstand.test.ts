import { describe, expect, test } from 'vitest'
import { parseDrive } from '../../src/contract/drive-document.ts'
import type { MotorEstimate } from '../../src/contract/motor-estimate.ts'
import type {
  OperatingPoint,
  PointQuantity,
  WindingHeat,
} from '../../src/contract/withstand-document.ts'
import { operatingPoints } from '../../src/drive/operating-points.ts'
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

const HEAT: WindingHeat = { joulePerKelvin: 20, standardUncertainty: 2, run: 4 }

const finding = (id: string, d = drive(), heat: WindingHeat | null = null) =>
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
    expectRelative(finding('edgeOvershoot', limited).value!, (2e-8 * 5.05) / 1e-7, 1e-12)
  })

  test('stall time by stepping the heat equation', () => {
    // dT/dt = I² R(T)/C in steps of a millisecond.
    let celsius = 40
    let sec = 0
    for (; celsius < 130; sec += 1e-3) celsius += (1e-3 * 100 * ((234.5 + celsius) / 274.5)) / 20
    expectRelative(adiabaticStallSec(20, 10, 1, 40, 130), sec, 1e-3)
    expect(finding('stallTime').reason).toContain('heat capacity is not known')
    expect(finding('stallTime', drive(), HEAT).value).toBeGreaterThan(0)
  })

  test('what a heating run leaves open of the heat is in the time, share for share', () => {
    const certain = { ...estimate, covariance: estimate.covariance.map(row => row.map(() => 0)) }
    const timeOf = (motor: MotorEstimate, d = drive()) =>
      withstand(motor, d, HEAT).find(({ id }) => id === 'stallTime')!
    const measured = timeOf(certain)
    expectRelative(measured.standardUncertainty! / measured.value!, 2 / 20, 1e-9)
    expect(measured.inputs).toContainEqual({
      name: 'winding takes, by heating run 4',
      value: 20,
      unit: 'J/K',
      standardUncertainty: 2,
    })
    // Independent of what the identification leaves open of R and V_b: squares add up.
    const both = timeOf(estimate)
    const stated = timeOf(estimate, drive({ windingHeatJoulePerKelvin: 20 }))
    expectRelative(
      both.standardUncertainty!,
      Math.hypot(stated.standardUncertainty!, measured.standardUncertainty!),
      1e-9,
    )
    expect(stated.inputs.at(-1)).not.toHaveProperty('standardUncertainty')
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

describe('operating points in the quadrants, by hand', () => {
  /** R 1, k 0.05, V_b 1, friction 0.01 N m; drive of 0.1 ohm, 25 V; a load of 0.09 N m. */
  const turning: MotorEstimate = {
    ...estimate,
    names: [...estimate.names, 'coulombTorque'],
    values: [...estimate.values, 0.01],
    covariance: [...estimate.covariance, [0, 0, 0, 0, 0, 0]].map((row, i) =>
      i < 6 ? [...row, 0] : [0, 0, 0, 0, 0, 0, 1e-8],
    ),
  }
  const points = (changes: object = {}) =>
    operatingPoints(turning, {
      drive: drive({ load: { torqueNm: 0.09 }, ...changes }),
      referenceTemperatureCelsius: 20,
    }).filter(point => point.supply === 'strong')
  const value = (point: OperatingPoint, of: PointQuantity) => point.values![of].value

  test('driving: i = (0.09 + 0.01)/0.05 = 2 A, speed = (25 − 1 − 2·1.1)/0.05', () => {
    const [drives, back] = [points()[0]!, points().find(p => p.sense === -1)!]
    expectRelative(value(drives, 'current'), 2, 1e-9)
    expectRelative(value(drives, 'speed'), 21.8 / 0.05, 1e-9)
    expectRelative(value(drives, 'supplyPower'), 50, 1e-9)
    expectRelative(value(back, 'speed'), -21.8 / 0.05, 1e-9)
    expectRelative(value(back, 'supplyPower'), 50, 1e-9)
    // u(i) = T u(k)/k² and u(T_c)/k.
    expectRelative(
      drives.values!.current.standardUncertainty,
      Math.hypot((0.1 * 1e-4) / 0.0025, 1e-4 / 0.05),
      1e-3,
    )
  })

  test('holding back: i = (0.01 − 0.09)/0.05 = −1.6 A, so 21.8 − 1.76 − 1 V and 30.5 W come back', () => {
    const held = points().find(p => p.action === 'hold-back')!
    expectRelative(value(held, 'current'), -1.6, 1e-9)
    expectRelative(value(held, 'bridgeVoltage'), 19.04, 1e-9)
    expectRelative(value(held, 'duty'), 19.04 / 25, 1e-9)
    expectRelative(value(held, 'supplyPower'), -19.04 * 1.6, 1e-9)
    expect(value(held, 'torque')).toBe(-0.09)
  })

  test('braking hardest: shorted terminals (21.8 − 1)/1.1 A without a limit, the limit with one', () => {
    const shorted = points().find(p => p.action === 'brake')!
    expectRelative(value(shorted, 'current'), -20.8 / 1.1, 1e-9)
    expect(value(shorted, 'bridgeVoltage')).toBe(0)
    const limited = points({ currentLimit: { limitAmp: 5 } }).find(p => p.action === 'brake')!
    expectRelative(value(limited, 'current'), -5, 1e-12)
    expectRelative(value(limited, 'torque'), -0.25 - 0.01, 1e-9)
    expectRelative(value(limited, 'bridgeVoltage'), 21.8 - 5.5 - 1, 1e-9)
  })

  test.each([
    [1, ['drive']],
    [2, ['drive', 'hold-back', 'brake']],
    [4, ['drive', 'hold-back', 'brake', 'drive', 'hold-back', 'brake']],
  ])('a drive of %d quadrants has %j', (quadrants, actions) => {
    expect(points({ quadrants }).map(point => point.action)).toEqual(actions)
  })

  test('a load beyond the limit or the stall is said, not worked out', () => {
    const reason = (changes: object) => points(changes)[0]!.reason
    expect(reason({ currentLimit: { limitAmp: 1.5 } })).toBe(
      'the load takes 2.00 A, above the limit of 1.5 A',
    )
    expect(reason({ load: { torqueNm: 3 } })).toBe('the load takes more than the stall torque')
  })

  test('one direction of voltage does not hold back what shorted terminals do not', () => {
    // At 4 V: (4 − 1 − 2.2)/0.05 = 16 rad/s; 1.6 A back through 1.1 ohm and the drop need 2.76 V, 0.8 V are there.
    const slow = { supply: { lowestVolt: 4, highestVolt: 4 } }
    const held = (quadrants: number) =>
      points({ ...slow, quadrants }).find(p => p.action === 'hold-back')!
    expect(held(2).reason).toContain('no reverse voltage')
    expectRelative(value(held(4), 'bridgeVoltage'), 0.8 - 2.76, 1e-9)
    // So the supply feeds nothing back: it brakes against the shaft with its own power.
    expect(value(held(4), 'supplyPower')).toBeGreaterThan(0)
  })
})

describe('bipolar switching and the current sense', () => {
  const bipolar = drive({ bridge: { pathResistanceOhm: 0.1, pwmHz: 20_000, switching: 'bipolar' } })

  test('the link of a bipolar bridge carries the whole motor current as ripple at half duty', () => {
    // Link current +I for half a period and −I for the other: mean 0, RMS I; charge I T/2.
    const amp = 24 / 1.1
    expectRelative(finding('linkRippleCurrent', bipolar).value!, amp, 1e-12)
    expectRelative(finding('linkRippleVoltage', bipolar).value!, amp * (1 / 40 + 0.04), 1e-12)
  })

  test('the sense reaches past the peak behind the limit; one direction needs half the span', () => {
    const limited = (quadrants: number) =>
      drive({ currentLimit: { limitAmp: 5, blankingSec: 2e-6 }, quadrants })
    expectRelative(finding('senseRange', limited(1)).value!, 1.25 * 5.05, 1e-9)
    expectRelative(finding('senseRange', limited(4)).value!, 1.25 * 5.1, 1e-9)
    expectRelative(finding('senseResolution', limited(1)).value!, (1.25 * 5.05) / 4096, 1e-9)
    expectRelative(finding('senseResolution', limited(4)).value!, (2.5 * 5.1) / 4096, 1e-9)
    // Without a limit a reversal is the worst: (2·25 − 2)/1.1.
    expectRelative(finding('senseRange').value!, (1.25 * 48) / 1.1, 1e-9)
  })
})

/** RMS of the link capacitor's current and swing of its voltage over a period, by summing the waveform. */
function linkByWaveform(amp: number, duty: number, low: number, farad: number, hertz: number) {
  const steps = 20_000
  const current = (i: number) => (i < duty * steps ? amp : low)
  const mean = duty * amp + (1 - duty) * low
  let [squares, charge, least, most] = [0, 0, 0, 0]
  for (let i = 0; i < steps; i++) {
    const flow = mean - current(i)
    squares += flow * flow
    charge += flow / (steps * hertz)
    least = Math.min(least, charge)
    most = Math.max(most, charge)
  }
  return { rms: Math.sqrt(squares / steps), swing: (most - least) / farad }
}

describe('ripple of the DC link against its waveform, summed', () => {
  test.each([
    ['unipolar', 0],
    ['bipolar', -1],
  ] as const)('%s: no duty is worse than half, which is what is stated', (switching, low) => {
    const d = drive({
      bridge: { pathResistanceOhm: 0.1, pwmHz: 20_000, switching },
      dcLink: { capacitanceFarad: 1e-3 },
    })
    const amp = 24 / 1.1
    const at = (duty: number) => linkByWaveform(amp, duty, low * amp, 1e-3, 20_000)
    expectRelative(finding('linkRippleCurrent', d).value!, at(0.5).rms, 1e-3)
    expectRelative(finding('linkRippleVoltage', d).value!, at(0.5).swing, 1e-3)
    for (const duty of [0.2, 0.4, 0.6, 0.9]) {
      expect(at(duty).rms).toBeLessThan(at(0.5).rms)
      expect(at(duty).swing).toBeLessThan(at(0.5).swing)
    }
  })
})
