import { describe, expect, test } from 'vitest'
import {
  type SteadyMotor,
  speedAtTorque,
  steadyCurrentAmp,
  steadyPoint,
} from '../../src/motor/steady-state.ts'
import { expectRelative } from '../support/expect-relative.ts'

const IDEAL: SteadyMotor = {
  resistanceOhm: 2,
  backEmfConstantVsPerRad: 0.05,
  torqueConstantNmPerA: 0.05,
  brushDropVolt: 0,
  coulombTorqueNm: 0,
  viscousNmsPerRad: 0,
  windageNms2PerRad2: 0,
  offsetTorqueNm: 0,
}
const REAL: SteadyMotor = {
  ...IDEAL,
  brushDropVolt: 1,
  coulombTorqueNm: 0.004,
  viscousNmsPerRad: 2e-6,
  windageNms2PerRad2: 3e-9,
  offsetTorqueNm: 1e-4,
}

describe('the ideal motor', () => {
  // Straight-line characteristics of the ideal permanent-magnet machine, by hand: 12 V, 2 Ω, 0.05 V s/rad.
  test.each([
    ['stall current', () => steadyCurrentAmp(IDEAL, 12, 0), 6],
    ['stall torque', () => steadyPoint(IDEAL, 12, 0).torqueNm, 0.3],
    ['no-load speed', () => speedAtTorque(IDEAL, 12, 0), 240],
    ['speed at half the stall torque', () => speedAtTorque(IDEAL, 12, 0.15), 120],
    ['largest power, at half speed', () => steadyPoint(IDEAL, 12, 120).mechanicalWatt, 18],
    ['efficiency there', () => steadyPoint(IDEAL, 12, 120).efficiency ?? 0, 0.5],
    ['short-circuited at 100 rad/s', () => steadyPoint(IDEAL, 0, 100).torqueNm, -0.125],
  ])('%s (by hand)', (_name, actual, expected) => expectRelative(actual(), expected, 1e-9))

  test('generates at a higher speed: power flows from the shaft to the terminals', () => {
    const point = steadyPoint(IDEAL, 12, 300)
    expect(point.electricalWatt).toBeLessThan(0)
    expect(point.mechanicalWatt).toBeLessThan(0)
    expectRelative(point.efficiency!, 240 / 300, 1e-12)
  })

  test('braked against its voltage both powers flow in, and there is no efficiency', () => {
    expect(steadyPoint(IDEAL, 12, -50).efficiency).toBeNull()
  })
})

describe('a motor with drop and friction', () => {
  test('power is balanced: input less copper, drop and drag is output', () => {
    for (const speed of [5, 80, 160]) {
      const { currentAmp: i, electricalWatt, mechanicalWatt } = steadyPoint(REAL, 12, speed)
      const drag = 0.004 + 2e-6 * speed + 3e-9 * speed * speed + 1e-4
      expectRelative(mechanicalWatt, electricalWatt - 2 * i * i - i - drag * speed, 1e-9)
    }
  })

  test('no current flows while the voltage left is within the drop', () => {
    expect(steadyCurrentAmp(REAL, 12, 235)).toBe(0)
    expect(steadyCurrentAmp(REAL, 0.9, 0)).toBe(0)
  })

  test('the speed at a torque gives that torque back, both ways and when driven', () => {
    for (const [volt, torque] of [
      [12, 0.05],
      [12, -0.02],
      [-12, -0.05],
      [-12, 0.02],
    ] as const) {
      const speed = speedAtTorque(REAL, volt, torque)
      expect(Math.sign(speed)).toBe(Math.sign(volt))
      expect(Math.abs(steadyPoint(REAL, volt, speed).torqueNm - torque)).toBeLessThan(1e-9)
    }
  })

  test('stands still where the load is at or above the stall torque', () => {
    expect(speedAtTorque(REAL, 12, 0.3)).toBe(0)
    expect(speedAtTorque(REAL, 0.5, 0)).toBe(0)
  })
})
