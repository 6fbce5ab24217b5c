import { describe, expect, test } from 'vitest'
import { deriveQuantities } from '../../src/identify/derived.ts'
import type { ParameterName } from '../../src/records/parameter.ts'
import { expectRelative } from '../support/expect-relative.ts'

type Values = Partial<Record<ParameterName, number>>

function derive(values: Values, volt: number | null, uncertainties: Values = {}) {
  const names = Object.keys(values) as ParameterName[]
  return deriveQuantities({
    values,
    names,
    covariance: names.map((a, j) =>
      names.map((_, k) => (j === k ? (uncertainties[a] ?? 0) ** 2 : 0)),
    ),
    voltageVolt: volt,
    degreesOfFreedom: Number.POSITIVE_INFINITY,
  })
}
const RPM = Math.PI / 30
const ideal = (ohm: number, k: number): Values => ({
  resistance: ohm,
  torqueConstant: k,
  backEmfConstant: k,
  coulombTorque: 0,
})
const COMPANION = 'printed answer of the textbook companion, book not opened'

describe('derived quantities against worked examples', () => {
  test(`stall: 1.4286 A and 6.682 mN m at 6 V (Kothari, Nagrath, ex. 7.63; ${COMPANION})`, () => {
    const d = derive(ideal(4.2, 0.004677462049569), 6)
    expectRelative(d.stallCurrent!.value!, 1.4285714, 1e-7)
    expectRelative(d.stallTorque!.value!, 0.0066820886, 1e-7)
  })

  test(`no-load speed 1336.9 1/min at 28 V (Burman, Special Electrical Machines, ex. 4.2, p. 216; ${COMPANION})`, () => {
    const d = derive(ideal(28 / 5, 0.2), 28)
    expectRelative(d.noLoadSpeed!.value! / RPM, 1336.9015, 1e-7)
  })

  test(`current and speed at load (Fitzgerald et al., ex. 7.2, p. 372: 2867 1/min; ${COMPANION})`, () => {
    // 123 V, 21.9 kW, 0.02 ohm, 125 V at 3000 1/min: the load is taken as the drag at that current.
    const k = 125 / (3000 * RPM)
    const d = derive({ ...ideal(0.02, k), coulombTorque: k * (21900 / 123) }, 123)
    expectRelative(d.noLoadSpeed!.value! / RPM, 2866.5366, 1e-7)
    expectRelative(d.noLoadCurrent!.value!, 178.0488, 1e-6)
  })

  const gearmotors = [
    { rpm: 600, stall: 0.325, halfTorque: 0.163, watt: 5.1051 },
    { rpm: 3750, stall: 0.0722, halfTorque: 0.0361, watt: 7.0882 },
    { rpm: 92, stall: 1.6, halfTorque: 0.8, watt: 3.8537 },
  ]
  test.each(gearmotors)(
    'largest power $watt W at half of $stall N m and half of $rpm 1/min (MIT 2.007 page on DC motors)',
    ({ rpm, stall, watt }) => {
      const k = 1 / (rpm * RPM)
      const d = derive(ideal(k / stall, k), 1)
      expectRelative(d.maximumPower!.value!, watt, 1e-5)
      expectRelative(d.maximumPower!.value!, (stall / 2) * ((rpm * RPM) / 2), 1e-9)
    },
  )

  test(`time constants 0.1942 s and 1.278 s (Dubey, Fundamentals of Electrical Drives, ex. 5.9, p. 84; ${COMPANION})`, () => {
    const k = 1.9671550966
    const d = derive({ ...ideal(0.618, k), inductance: 0.12, inertia: 8 }, null)
    expectRelative(d.electricalTimeConstant!.value!, 0.1941747573, 1e-9)
    expectRelative(d.mechanicalTimeConstant!.value!, 1.2776186927, 1e-9)
  })

  test('largest efficiency is (1 − √(i₀/i_s))² with constant friction', () => {
    const values = { ...ideal(2, 0.05), coulombTorque: 0.01 }
    const [noLoad, stall] = [0.01 / 0.05, 12 / 2]
    expectRelative(
      derive(values, 12).maximumEfficiency!.value!,
      (1 - Math.sqrt(noLoad / stall)) ** 2,
      1e-9,
    )
  })
})

describe('propagation', () => {
  test('the uncertainty of a quotient is the quadratic sum of the relative ones', () => {
    const d = derive({ ...ideal(2, 0.05), inductance: 1e-3 }, null, {
      inductance: 3e-5,
      resistance: 0.08,
    })
    expectRelative(d.electricalTimeConstant!.standardUncertainty!, 5e-4 * 0.05, 2e-3)
  })

  test('what is as uncertain as it is large is not determined', () => {
    const values = { ...ideal(2, 0.05), inductance: 1e-3 }
    const unsure = derive(values, null, { inductance: 6e-4 }).electricalTimeConstant
    expect(unsure).toMatchObject({
      value: null,
      standardUncertainty: null,
      status: 'not-determined',
    })
    expect(derive(values, null, { inductance: 3e-4 }).electricalTimeConstant!.value).not.toBeNull()
  })

  test('what cannot be computed is left out', () => {
    expect(Object.keys(derive({ resistance: 2 }, null))).toEqual([])
    expect(Object.keys(derive({ resistance: 2 }, 12))).toEqual(['stallCurrent'])
  })

  test('friction with viscous and windage parts slows the motor', () => {
    const values = {
      ...ideal(2, 0.05),
      coulombTorque: 0.01,
      viscousCoefficient: 1e-5,
      windageCoefficient: 2e-8,
    }
    const d = derive(values, 12)
    const speed = d.noLoadSpeed!.value!
    const torque = 0.01 + 1e-5 * speed + 2e-8 * speed ** 2
    expectRelative(12 - (2 * torque) / 0.05, 0.05 * speed, 1e-12)
    expectRelative(d.noLoadCurrent!.value!, torque / 0.05, 1e-12)
  })
})
