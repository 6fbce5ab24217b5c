import { describe, expect, test } from 'vitest'
import type { FitDocument } from '../../src/contract/fit-document.ts'
import { identifyMotor } from '../../src/identify/identify-motor.ts'
import { type TestRun, UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'
import { expectRelative } from '../support/expect-relative.ts'
import {
  type IdealStep,
  simulateMotor,
  textbookRuns,
  typicalMotor,
} from '../support/simulate-motor.ts'

/**
 * Recordings as other benches make them, by equations that share nothing with the program: what their channels do
 * without a word must not end up in the motor.
 */
const VOLT = 12
const RATE_HZ = 4000
const motor = typicalMotor(20, VOLT)
const noise = { volt: 6e-3, amp: 4e-3, radPerSec: 0.2 }
const runs = textbookRuns(motor, VOLT, RATE_HZ, { noise })

function fitOf(all: readonly TestRun[]): FitDocument {
  const settings = { fixed: {}, freed: [], referenceTemperatureCelsius: 20 }
  const fit = identifyMotor('specimen', all, settings, () => true)
  if (!fit.ok) throw new Error(fit.error.text)
  return fit.value
}

type Columns = TestRun['recording']['columns']

const withColumns = (
  run: TestRun,
  change: (columns: Columns, timeSec: Float64Array) => Columns,
) => ({
  ...run,
  recording: {
    ...run.recording,
    columns: change(run.recording.columns, run.recording.timeSec!),
  },
})

const turning = (change: (columns: Columns, timeSec: Float64Array) => Columns) =>
  runs.map(run => (run.kind === 'locked-rotor' ? run : withColumns(run, change)))

const codes = ({ warnings }: FitDocument) => warnings.map(({ code }) => code)

function expectMotor({ parameters }: FitDocument): void {
  const { backEmfConstant, inertia, coulombTorque, resistance } = parameters
  expectRelative(backEmfConstant.value!, motor.k, 0.001)
  expectRelative(resistance.value!, motor.ohm, 0.01)
  expectRelative(inertia.value!, motor.inertia, 0.02)
  expectRelative(coulombTorque.value!, motor.coulomb, 0.06)
  expect(backEmfConstant.lower95!).toBeLessThan(motor.k)
  expect(backEmfConstant.upper95!).toBeGreaterThan(motor.k)
}

describe('when the speed is read', () => {
  /** A filter of the first order, as a tacho has one. */
  const filtered = (sec: number) =>
    turning(columns => {
      const share = 1 - Math.exp(-1 / (RATE_HZ * sec))
      let state = columns.speed![0]!
      return {
        ...columns,
        speed: columns.speed!.map(value => {
          state += share * (value - state)
          return state
        }),
      }
    })

  test('behind a filter: the lag is found, said and allowed for', () => {
    const fit = fitOf(filtered(0.5e-3))
    const said = fit.warnings.find(({ code }) => code === 'speed-lag')!
    const [, ms] = /read ([\d.]+) ms later than voltage/.exec(said.text)!
    expect(Number(ms)).toBeGreaterThan(0.2)
    expect(Number(ms)).toBeLessThan(0.7)
    expectMotor(fit)
  })

  test('at once: nothing is said', () => {
    const fit = fitOf(runs)
    expect(codes(fit)).not.toContain('speed-lag')
    expectMotor(fit)
  })
})

test('a timer between the edges of an encoder, at rest nil, holds its readings', () => {
  const EDGES = 50
  const fit = fitOf(
    turning((columns, timeSec) => {
      const step = (2 * Math.PI) / EDGES
      let [angle, edges, lastSec, reading] = [0.5 * step, 0, Number.NaN, 0]
      return {
        ...columns,
        speed: columns.speed!.map((speed, i) => {
          const periodSec = i === 0 ? 0 : timeSec[i]! - timeSec[i - 1]!
          const before = angle
          angle += Math.max(0, speed - noise.radPerSec) * periodSec
          for (; Math.floor(angle / step) > edges; edges++) {
            const share = ((edges + 1) * step - before) / (angle - before)
            const sec = timeSec[i]! - (1 - share) * periodSec
            if (!Number.isNaN(lastSec)) reading = step / (sec - lastSec)
            lastSec = sec
          }
          if (timeSec[i]! - lastSec > 0.15) [reading, lastSec] = [0, Number.NaN]
          return reading
        }),
      }
    }),
  )
  const { backEmfConstant, inertia } = fit.parameters
  expectRelative(backEmfConstant.value!, motor.k, 0.003)
  expectRelative(inertia.value!, motor.inertia, 0.05)
})

test('a voltage that is the duty times the supply reads nil while the terminals are open: a gap, not a short', () => {
  const fit = fitOf(
    turning(columns => ({
      ...columns,
      voltage: columns.voltage!.map((volt, i) =>
        Math.abs(columns.current![i]!) < 4 * noise.amp && Math.abs(columns.speed![i]!) > 1
          ? 0
          : volt,
      ),
    })),
  )
  expectMotor(fit)
})

test('runs whose speed nobody knows leave what the locked rotor tells alone', () => {
  const locked = fitOf(runs.filter(({ kind }) => kind === 'locked-rotor')).parameters
  const all = fitOf(turning(({ speed: _, ...columns }) => columns)).parameters
  for (const name of ['resistance', 'inductance', 'brushDrop'] as const) {
    expect(all[name].value).toBe(locked[name].value)
  }
  expect(all.backEmfConstant.status).toBe('not-determined')
})

test('a locked rotor of one motor beside the runs of another is named', () => {
  const other = typicalMotor(20, VOLT, () => 0.9)
  const strange = textbookRuns(other, VOLT, RATE_HZ, { noise })
  const mixed = runs.map((run, n) => (run.kind === 'locked-rotor' ? strange[n]! : run))
  expect(codes(fitOf(mixed))).toContain('contradicting-runs')
})

describe('two coast-downs, one with a disc of known inertia', () => {
  const disc = 1.5 * motor.inertia
  const coasting = (steps: readonly IdealStep[], withCurrent: boolean): TestRun[] =>
    [0, disc].map((addedInertiaKgM2, n) => {
      const turned = { ...motor, inertia: motor.inertia + addedInertiaKgM2 }
      const without = withCurrent ? [] : (['current'] as const)
      const recording = simulateMotor(turned, steps, 1000, { noise, seed: 5 + n, without })
      const conditions = { ...UNKNOWN_CONDITIONS, windingCelsius: 20, addedInertiaKgM2 }
      return { id: n + 1, kind: 'coast-down', recording, conditions }
    })
  const thenOpen = [
    { bridge: 'drive', volt: VOLT, sec: 1.5 },
    { bridge: 'coast', volt: 0, sec: 4 },
  ] as const

  function expectMechanics({ parameters }: FitDocument): void {
    // What the same friction does to two inertias: J = J_disc a₂/(a₁ − a₂) (retardation test; from memory).
    expectRelative(parameters.inertia.value!, motor.inertia, 0.01)
    expectRelative(parameters.coulombTorque.value!, motor.coulomb, 0.03)
    expectRelative(parameters.backEmfConstant.value!, motor.k, 0.002)
    for (const [name, truth] of [
      ['inertia', motor.inertia],
      ['coulombTorque', motor.coulomb],
      ['backEmfConstant', motor.k],
    ] as const) {
      expect(parameters[name].lower95!).toBeLessThan(truth)
      expect(parameters[name].upper95!).toBeGreaterThan(truth)
    }
  }

  test('and no current channel: the terminals are open from where the shaft slows down', () => {
    const fit = fitOf(coasting(thenOpen, false))
    expectMechanics(fit)
    expect(fit.parameters.resistance.status).toBe('not-determined')
    expect(fit.budget.torqueConstant).toBeUndefined()
  })

  test('recorded from full speed on, the current all nil', () => {
    const fit = fitOf(
      coasting(thenOpen, true).map(run => {
        const from = 1600
        const { timeSec, columns, sampleCount } = run.recording
        return {
          ...run,
          recording: {
            ...run.recording,
            sampleCount: sampleCount - from,
            timeSec: timeSec!.slice(from).map(sec => sec - timeSec![from]!),
            columns: {
              voltage: columns.voltage!.slice(from),
              speed: columns.speed!.slice(from),
              current: new Float64Array(sampleCount - from),
            },
          },
        }
      }),
    )
    expectMechanics(fit)
  })
})
