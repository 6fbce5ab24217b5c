import { describe, expect, test } from 'vitest'
import { analyseBackDriven } from '../../src/analysis/back-driven.ts'
import { analyseCoastDown } from '../../src/analysis/coast-down.ts'
import { analyseFreeRun } from '../../src/analysis/free-run.ts'
import { analyseLoad } from '../../src/analysis/load.ts'
import { analyseMixed } from '../../src/analysis/mixed.ts'
import type { KnownParameters, TestAnalysis } from '../../src/analysis/result.ts'
import { analyseRunUp } from '../../src/analysis/run-up.ts'
import { F9M2_FREE_RUN, F9M2_FRICTION, F9M2_SOURCE } from '../reference/f9m2.ts'
import { expectRelative } from '../support/expect-relative.ts'
import {
  asRun,
  asTable,
  type IdealStep,
  simulateMotor,
  typicalMotor,
} from '../support/simulate-motor.ts'

const RPM = Math.PI / 30
const exactly = (value: number) => ({
  value,
  standardUncertainty: 0,
  degreesOfFreedom: Number.POSITIVE_INFINITY,
})
const row = (...values: number[]) => Float64Array.from(values)
const unwrap = <T extends TestAnalysis>(
  result: { ok: true; value: T } | { ok: false; error: { text: string } },
): T => {
  if (!result.ok) throw new Error(result.error.text)
  return result.value
}

const motor = typicalMotor(20, 12)
const known: KnownParameters = {
  resistance: exactly(motor.ohm),
  brushDrop: exactly(motor.dropVolt),
}
const NOISE = { volt: 6e-3, amp: 2e-3, radPerSec: 0.3 }
const on = (volt: number, sec: number): IdealStep => ({ bridge: 'drive', volt, sec })
const coast = (sec: number): IdealStep => ({ bridge: 'coast', volt: 0, sec })

describe('free run: worked examples', () => {
  test('Fitzgerald, Kingsley, Umans, Electric Machinery, 6th ed., example 7.9, p. 389: K 0.22, losses 61 W', () => {
    const table = asTable(1, 'free-run', {
      voltage: row(50),
      current: row(1.25),
      speed: row(2100 * RPM),
    })
    const { values, moving } = unwrap(
      analyseFreeRun(table, { resistance: exactly(1.03), brushDrop: exactly(0) }),
    )
    expectRelative(values.backEmfConstant!.value, 0.2215095762, 1e-9)
    expectRelative(values.coulombTorque!.value * 2100 * RPM, 60.890625, 1e-9)
    expect(moving.drag!.terms).toEqual(['coulomb'])
  })

  test('Kothari, Nagrath, Electric Machines, example 7.63: K 4.677e-3, losses 0.0861 W', () => {
    const table = asTable(1, 'free-run', {
      voltage: row(6),
      current: row(0.0145),
      speed: row(12125 * RPM),
    })
    const { values } = unwrap(
      analyseFreeRun(table, { resistance: exactly(4.2), brushDrop: exactly(0) }),
    )
    expectRelative(values.backEmfConstant!.value, 0.004677462049569, 1e-9)
    expectRelative(values.coulombTorque!.value * 12125 * RPM, 0.08611695, 1e-7)
  })
})

describe(`free run: hand-read tables (${F9M2_SOURCE})`, () => {
  const stall: KnownParameters = {
    resistance: { value: 0.7187515, standardUncertainty: 0.01806, degreesOfFreedom: 12 },
    brushDrop: { value: 0.6474488, standardUncertainty: 0.09298, degreesOfFreedom: 12 },
    resistanceBrushCovariance: -0.00146,
  }

  test('back-EMF slope 0.0330 ± 0.0001 V s/rad', () => {
    const { values } = unwrap(analyseFreeRun(asTable(1, 'free-run', F9M2_FREE_RUN), stall))
    const k = values.backEmfConstant!
    expect(Math.abs(k.value - 0.033)).toBeLessThan(0.0001)
    expect(k.standardUncertainty).toBeGreaterThan(5e-5)
    expect(k.standardUncertainty).toBeLessThan(1.5e-4)
  })

  test('friction from the torque slope 0.0285: T_c 0.0188 N m, B 3.6e-5 N m s/rad', () => {
    const { values } = unwrap(
      analyseFreeRun(asTable(1, 'free-run', F9M2_FRICTION), { torqueConstant: exactly(0.0285) }),
    )
    const [coulomb, viscous] = [values.coulombTorque!, values.viscousCoefficient!]
    expect(Math.abs(coulomb.value - 0.0188)).toBeLessThan(0.00015)
    expect(Math.abs(viscous.value - 3.6e-5)).toBeLessThan(0.05e-5)
    // Ordinary least squares on the table, recomputed; rounding of the speeds counts here and hardly matters.
    expectRelative(coulomb.value, 0.018692334234202062, 1e-6)
    expectRelative(viscous.value, 3.560313666529679e-5, 1e-6)
    expectRelative(coulomb.standardUncertainty, 3.342032363067897e-4, 1e-4)
  })
})

describe('free run: recording', () => {
  const both = [0.4, 0.7, 1, -0.4, -0.7, -1].map(share => on(share * 12, 0.7))

  test('gives k and friction in both directions within their uncertainties', () => {
    const run = asRun(1, 'free-run', simulateMotor(motor, both, 5000, { noise: NOISE }))
    const { values } = unwrap(analyseFreeRun(run, known))
    expectRelative(values.backEmfConstant!.value, motor.k, 1e-4)
    const truth = { coulombTorque: motor.coulomb, viscousCoefficient: motor.viscous }
    for (const [name, value] of Object.entries(truth)) {
      const found = values[name]!
      expect(Math.abs(found.value - value)).toBeLessThan(3.5 * found.standardUncertainty)
    }
    expect(values.offsetTorque).toBeUndefined()
  })

  test('friction that differs by direction shows as an offset', () => {
    const run = asRun(1, 'free-run', simulateMotor(motor, both, 5000, { noise: NOISE }))
    const offset = run.recording.columns.current!.map(amp => amp + 0.02)
    const shifted = {
      ...run,
      recording: { ...run.recording, columns: { ...run.recording.columns, current: offset } },
    }
    const { values } = unwrap(analyseFreeRun(shifted, known))
    expectRelative(values.offsetTorque!.value, 0.02 * motor.k, 0.05)
  })

  test('position stands in for speed', () => {
    const recording = simulateMotor(motor, both, 5000, { noise: { ...NOISE, radPerSec: 0 } })
    const { speed, ...others } = recording.columns
    let angle = 0
    const position = speed!.map(w => (angle += w / 5000))
    const run = asRun(1, 'free-run', { ...recording, columns: { ...others, position } })
    expectRelative(unwrap(analyseFreeRun(run, known)).values.backEmfConstant!.value, motor.k, 1e-3)
  })
})

describe('coast-down', () => {
  test('open terminals give k_e, the speed its decelerations, whatever R is', () => {
    const run = asRun(
      1,
      'coast-down',
      simulateMotor(motor, [on(12, 0.6), coast(1.6)], 5000, { noise: NOISE }),
    )
    const { values, fitted } = unwrap(analyseCoastDown(run))
    expectRelative(values.backEmfConstantOpenTerminals!.value, motor.k, 2e-4)
    expectRelative(values.coulombOverInertia!.value, motor.coulomb / motor.inertia, 0.01)
    const n = Math.round(1.2 * 5000)
    expect(Math.abs(fitted.speed![n]! - run.recording.columns.speed![n]!)).toBeLessThan(
      6 * NOISE.radPerSec,
    )
  })

  test('a voltage channel that reads nil while open is named, not believed', () => {
    const recording = simulateMotor(motor, [on(12, 0.6), coast(1.6)], 5000, { noise: NOISE })
    const voltage = recording.columns.voltage!.map((v, n) => (n < 3000 ? v : 0))
    const run = asRun(1, 'coast-down', { ...recording, columns: { ...recording.columns, voltage } })
    const result = unwrap(analyseCoastDown(run))
    expect(result.values.backEmfConstantOpenTerminals).toBeUndefined()
    expect(result.warnings.map(w => w.code)).toContain('coast-voltage')
  })

  test('a drive without a coast is refused in words', () => {
    const run = asRun(1, 'coast-down', simulateMotor(motor, [on(12, 1)], 5000))
    const result = analyseCoastDown(run)
    expect(result.ok ? '' : result.error.text).toMatch(/open the terminals at speed/)
  })
})

describe('run-up', () => {
  const recording = simulateMotor(motor, [on(0, 0.02), on(12, 0.6)], 5000, { noise: NOISE })

  test('gives J with the friction known', () => {
    const { values } = unwrap(
      analyseRunUp(asRun(1, 'run-up', recording), {
        ...known,
        backEmfConstant: exactly(motor.k),
        coulombTorque: exactly(motor.coulomb),
        viscousCoefficient: exactly(motor.viscous),
        windageCoefficient: exactly(motor.windage),
      }),
    )
    expectRelative(values.inertia!.value, motor.inertia, 1e-3)
  })

  test('reversed speed is named', () => {
    const speed = recording.columns.speed!.map(w => -w)
    const run = asRun(1, 'run-up', { ...recording, columns: { ...recording.columns, speed } })
    const result = analyseRunUp(run, known)
    expect(result.ok ? '' : result.error.text).toMatch(/turn the speed channel round/)
  })

  test('a table is no run-up', () => {
    const table = asTable(1, 'run-up', { voltage: row(1), current: row(1), speed: row(1) })
    const result = analyseRunUp(table, known)
    expect(result.ok ? '' : result.error.text).toBe(
      'a run-up has to be a recording with a time column',
    )
  })

  test('without speed or position it says so', () => {
    const { speed: _, ...columns } = recording.columns
    const result = analyseRunUp(asRun(1, 'run-up', { ...recording, columns }), known)
    expect(result.ok ? '' : result.error.text).toBe(
      'a run-up test needs a speed or position channel; where the current shows the commutation, its ripple tells the speed',
    )
  })
})

test('mixed: the phases of one recording are found and read', () => {
  const steps = [on(4, 0.7), on(8, 0.6), on(12, 0.6), coast(1.6)]
  const run = asRun(1, 'mixed', simulateMotor(motor, steps, 5000, { noise: NOISE }))
  const { values, stall } = unwrap(analyseMixed(run))
  expect(stall).toBeNull()
  expectRelative(values.backEmfConstantOpenTerminals!.value, motor.k, 2e-4)
  expectRelative(values.resistance!.value, motor.ohm, 0.01)
  expectRelative(values.inertia!.value, motor.inertia, 0.01)
})

test('back-driven: k_e is the slope of the open voltage, samples with current left out', () => {
  const speed = row(20.125, 40.125, 60.125, 80.125, 100.125)
  const voltage = speed.map(w => 0.05 * w + 0.0125)
  const loaded = analyseBackDriven(
    asTable(1, 'back-driven', {
      speed: row(...speed, 90),
      voltage: row(...voltage, 3),
      current: row(0, 0, 0, 0, 0, 2),
    }),
  )
  expectRelative(unwrap(loaded).backEmfConstant.value, 0.05, 1e-9)
})

test('load: k_t from current over load torque, friction beside it', () => {
  const [kt, coulomb, viscous] = [0.04, 0.012, 2e-5]
  const torque = row(0, 0.05, 0.1, 0.15, 0.2)
  const speed = row(400, 380, 361, 340, 322)
  const current = torque.map((t, i) => (t + coulomb + viscous * speed[i]!) / kt)
  const { values } = unwrap(analyseLoad(asTable(1, 'load', { torque, speed, current })))
  expectRelative(values.torqueConstant!.value, kt, 0.01)
})
