import { describe, expect, test } from 'vitest'
import { textbookFit } from '../../src/identify/textbook-fit.ts'
import type { TestRun } from '../../src/records/test-run.ts'
import { expectRelative } from '../support/expect-relative.ts'
import {
  asRun,
  type IdealStep,
  simulateMotor,
  textbookRuns,
  typicalMotor,
} from '../support/simulate-motor.ts'

const motor = typicalMotor(20, 12)
const noise = { volt: 6e-3, amp: 4e-3, radPerSec: 0.3 }
const runs = textbookRuns(motor, 12, 5000, { noise })
const [held, free, runUp, coast] = [runs[0]!, runs[1]!, runs[2]!, runs[3]!]

const fitOf = (of: readonly TestRun[]) => {
  const fit = textbookFit('mill no. 7', of, {
    fixed: {},
    freed: [],
    referenceTemperatureCelsius: 20,
  })
  if (!fit.ok) throw new Error(fit.error.text)
  return fit.value
}
const said = (of: readonly TestRun[], code: string) =>
  fitOf(of)
    .warnings.filter(warning => warning.code === code)
    .map(({ run, text }) => `${run}: ${text}`)

describe('time stamps with too few digits', () => {
  const coarse = (run: TestRun): TestRun => ({
    ...run,
    recording: {
      ...run.recording,
      timeSec: run.recording.timeSec!.map(t => Math.round(t * 1000) / 1000),
    },
  })

  test('are named', () => {
    expect(said([held, coarse(free), runUp, coast], 'coarse-time')).toEqual([
      expect.stringMatching(/^2: (79|80) % of the rows carry the time of the row before/),
    ])
    expect(said(runs, 'coarse-time')).toEqual([])
  })

  test('tell levels, but neither inductance nor inertia nor friction', () => {
    const { parameters } = fitOf(runs.map(coarse))
    expectRelative(parameters.resistance.value!, motor.ohm, 0.02)
    expectRelative(parameters.backEmfConstant.value!, motor.k, 0.02)
    for (const name of ['inductance', 'inertia', 'coulombTorque', 'viscousCoefficient'] as const) {
      expect(parameters[name]).toMatchObject({ status: 'not-determined', value: null })
    }
  })

  test('tell no resistance from a balance between levels that cannot be kept apart', () => {
    const fit = textbookFit('mill no. 7', [coarse({ ...free, kind: 'mixed' })], {
      fixed: {},
      freed: [],
      referenceTemperatureCelsius: 20,
    })
    expect(fit.ok ? fit.value.parameters.resistance.value : null).toBeNull()
  })
})

describe('no zero test', () => {
  const shifted = (run: TestRun, amp: number): TestRun => ({
    ...run,
    recording: {
      ...run.recording,
      columns: {
        ...run.recording.columns,
        current: run.recording.columns.current!.map(value => value + amp),
      },
    },
  })

  test('an offset shows before the first drive and is taken off', () => {
    const offset = 0.03
    const bad = [shifted(held, offset), shifted(runUp, offset)]
    expect(said(bad, 'no-zero')).toEqual(
      [1, 3].map(id =>
        expect.stringMatching(
          new RegExp(
            `^${id}: no zero test: current reads 0.0(29|30?)\\d* A before the first drive`,
          ),
        ),
      ),
    )
    const good = fitOf([held, runUp])
    const found = fitOf(bad)
    const parameters = ['resistance', 'brushDrop', 'inertia'] as const
    for (const name of parameters) {
      const { value, standardUncertainty } = good.parameters[name]
      const difference = Math.abs(found.parameters[name].value! - value!)
      expect(difference).toBeLessThan(0.5 * standardUncertainty!)
    }
    const drag = ({ separate }: typeof good) => separate['run-3']!.values.coulombTorque!.value
    expectRelative(drag(found), drag(good), 0.01)
  })

  test('without one nothing is said', () => expect(said(runs, 'no-zero')).toEqual([]))
})

describe('runs of the wrong kind', () => {
  test('a free run whose shaft never turns looks like a locked rotor', () => {
    expect(said([held, { ...held, id: 9, kind: 'free-run' }, runUp], 'run-unusable')).toEqual([
      expect.stringMatching(/^9: the shaft never turns.*looks like a locked rotor/),
    ])
  })

  test('a load test wants a torque or a known load', () => {
    const load: TestRun = { ...free, kind: 'load' }
    expect(said([held, load], 'unknown-load')).toEqual([
      expect.stringMatching(/^2: .*neither a torque channel nor a known load/),
    ])
    const known = { ...load, conditions: { ...load.conditions, loadTorqueNm: 1e-3 } }
    expect(said([held, known], 'unknown-load')).toEqual([])
  })
})

describe('lack of fit', () => {
  test('is not denied beside runs that disagree far beyond their uncertainties', () => {
    // Twice the friction in the coast: a coupling that was not there in the free run.
    const stiff = { ...motor, coulomb: 2 * motor.coulomb }
    const other = textbookRuns(stiff, 12, 5000, { noise })[3]!
    const { goodness } = fitOf([held, free, runUp, coast, { ...other, id: 5 }])
    expect(goodness.reducedChiSquare!).toBeGreaterThan(5)
    expect(goodness.lackOfFit).toMatch(/torque equation: found, reduced χ² .*compare/)
  })

  test('is not claimed where the runs agree', () => {
    const { goodness } = fitOf(runs)
    expect(goodness.reducedChiSquare!).toBeLessThan(5)
    expect(goodness.lackOfFit).not.toMatch(/torque equation/)
  })
})

test('what is a share of a mean says so', () => {
  const steps: IdealStep[] = [6, -6].map(volt => ({ bridge: 'drive', volt, sec: 0.6 }))
  const both = asRun(2, 'free-run', simulateMotor(motor, steps, 5000, { noise }))
  const { speedDifference } = fitOf([held, both]).derived
  expect(speedDifference!.label).toMatch(/^Speed at 6 V, .*share of the mean \(0\.01 is 1 %\)$/)
})

test('directions are compared within a run, not between supplies', () => {
  const steps = (volts: readonly number[]): IdealStep[] =>
    volts.map(volt => ({ bridge: 'drive', volt, sec: 0.6 }))
  const both = asRun(2, 'free-run', simulateMotor(motor, steps([4, 8, -4, -9]), 5000, { noise }))
  // Warmer and with another coupling: slower at the same voltage, one way only.
  const dragged = { ...motor, coulomb: 4 * motor.coulomb }
  const other = asRun(3, 'free-run', simulateMotor(dragged, steps([12]), 5000, { noise }))
  const { speedDifference } = fitOf([held, both, other]).derived
  expect(speedDifference!.label).toMatch(/^Speed at 8 V/)
  expect(Math.abs(speedDifference!.value!)).toBeLessThan(2e-3)
})
