import { beforeAll, describe, expect, test } from 'vitest'
import { fitDocument } from '../../src/contract/fit-document.ts'
import type { FitDocument } from '../../src/contract/fit-document.ts'
import type { FitSettings } from '../../src/identify/fit-settings.ts'
import { identifyMotor } from '../../src/identify/identify-motor.ts'
import { practiceRun, practiceSuite } from '../../src/practice-rig/practice-run.ts'
import { practiceTruth } from '../../src/practice-rig/practice-truth.ts'
import { REALISTIC } from '../../src/practice-rig/imperfections.ts'
import type { ParameterName } from '../../src/records/parameter.ts'
import type { TestRun } from '../../src/records/test-run.ts'
import { type CoverageSample, LAW_NAMES, modelSample } from '../support/coverage-sample.ts'
import { coverageLines } from '../support/coverage-report.ts'
import { TRIAL_MOTOR, trialRuns } from '../support/own-model-trial.ts'
import { practiceMotor } from '../support/practice.ts'

const PLAIN: FitSettings = { fixed: {}, freed: [], referenceTemperatureCelsius: 20 }

function fitOf(runs: readonly TestRun[], settings: Partial<FitSettings> = {}): FitDocument {
  const result = identifyMotor('specimen', runs, { ...PLAIN, ...settings }, () => true)
  if (!result.ok) throw new Error(result.error.text)
  return fitDocument.parse(result.value)
}

/**
 * The Cramér–Rao bound is the outside check: no unbiased estimator has a smaller variance. The whole study, with its
 * result, is test/studies/coverage.ts; these are its first seeds.
 */
describe('on recordings of its own model with noise on every channel', () => {
  const SEEDS = 10
  const samples: CoverageSample[] = []
  beforeAll(() => {
    for (let seed = 1; seed <= SEEDS; seed++) {
      for (const law of LAW_NAMES) samples.push(modelSample(law, seed))
    }
  }, 120_000)

  test('errors are those of the bound', () => {
    // χ² of ten errors in parts of the bound: 29.6 is passed once in 1000 (R. A. Fisher's table, from memory).
    for (const { group, name, fits, rootMeanSquare, notDetermined } of coverageLines(samples)) {
      expect(notDetermined, `${group} ${name}`).toBe(0)
      expect(fits * rootMeanSquare ** 2, `${group} ${name}`).toBeLessThan(35)
    }
  })

  test('standard uncertainties are those of the bound', () => {
    for (const { group, name, uncertainty } of coverageLines(samples)) {
      expect(uncertainty, `${group} ${name}`).toBeGreaterThan(0.9)
      expect(uncertainty, `${group} ${name}`).toBeLessThan(1.1)
    }
  })

  test('intervals hold the truth', () => {
    const all = samples.flatMap(({ parameters }) => parameters)
    const held = all.filter(parameter => parameter.held).length
    // 140 intervals: 133 expected, correlated in sevens.
    expect(held / all.length).toBeGreaterThan(0.87)
  })
})

describe('a practice motor with everything that makes it hard', () => {
  const name = 'fennimore-24'
  const motor = practiceMotor(name)
  const truth = practiceTruth(motor, REALISTIC.imperfections)
  let fit: FitDocument
  beforeAll(() => {
    fit = fitOf(practiceSuite(motor, 3, { leadSec: 0.020_13 }))
  }, 60_000)

  const WITHIN: readonly (readonly [ParameterName, number])[] = [
    ['resistance', 0.015],
    ['inductance', 0.05],
    ['backEmfConstant', 0.002],
    ['brushDrop', 0.08],
    ['coulombTorque', 0.04],
    ['inertia', 0.02],
  ]
  test.each(WITHIN)('%s within %d of the truth and inside its interval', (parameter, share) => {
    const { value, lower95, upper95 } = fit.parameters[parameter]
    expect(Math.abs(value! / truth[parameter].value - 1)).toBeLessThan(share)
    expect(lower95!).toBeLessThan(truth[parameter].value)
    expect(upper95!).toBeGreaterThan(truth[parameter].value)
  })

  test('k_t follows k_e, and what each test says stands beside', () => {
    expect(fit.parameters.torqueConstant).toMatchObject({
      status: 'tied',
      value: fit.parameters.backEmfConstant.value,
    })
    expect(Object.keys(fit.separate).length).toBeGreaterThan(5)
  })

  test('residuals that are no noise are said, and the budget names what dominates', () => {
    expect(fit.goodness.lackOfFit).toMatch(/hang together/)
    for (const name of ['resistance', 'backEmfConstant', 'inertia']) {
      const shares = fit.budget[name]!.map(({ share }) => share)
      expect(shares.reduce((a, b) => a + b)).toBeCloseTo(1, 6)
    }
  })
})

describe('what is asked of it', () => {
  const runs = trialRuns(TRIAL_MOTOR, 5)

  test('a progress that says no ends it', () => {
    for (const after of [0, 1, 2, 3]) {
      let told = 0
      const fit = identifyMotor('specimen', runs, PLAIN, () => told++ < after)
      expect(fit).toMatchObject({ ok: false, error: { code: 'cancelled' } })
    }
  })

  test('a law of the brush drop by hand', () => {
    const none = fitOf(runs, { brushDropLaw: 'none' })
    expect(none.parameters.brushDrop.status).not.toBe('determined')
    expect(none.model?.brushKneeAmp).toBe(0)
    const sgn = fitOf(runs, { brushDropLaw: 'sgn' })
    expect(sgn.parameters.brushDrop.status).toBe('determined')
    expect(sgn.model?.brushKneeAmp).toBe(0)
    expect(fitOf(runs).model?.brushKneeAmp).toBeCloseTo(TRIAL_MOTOR.brushKneeAmp, 1)
  })

  test('what is fixed stays, and the rest follows', () => {
    const fit = fitOf(runs, { fixed: { inertia: 1.6e-5 } })
    expect(fit.parameters.inertia).toMatchObject({ status: 'fixed', value: 1.6e-5 })
    expect(fit.parameters.resistance.status).toBe('determined')
  })

  test('friction that differs by direction is said, and fitted on request', () => {
    const lopsided = { ...TRIAL_MOTOR, viscousDifferenceNmsPerRad: 2e-6 }
    const one = fitOf(trialRuns(lopsided, 6))
    expect(one.warnings.map(({ code }) => code)).toContain('friction-by-direction')
    const each = fitOf(trialRuns(lopsided, 6), { frictionLaw: 'by-direction' })
    expect(each.model?.viscousDifferenceNmsPerRad).toBeCloseTo(2e-6, 7)
    expect(each.warnings.map(({ code }) => code)).not.toContain('friction-by-direction')
  })

  test('R at the temperature of the test and at the reference', () => {
    const warm = fitOf(runs, { referenceTemperatureCelsius: 60 })
    const { value, atTestTemperature } = warm.parameters.resistance
    // Copper: (234.5 + 60) / (234.5 + 20), IEC 60034-1.
    expect(value! / (atTestTemperature as number)).toBeCloseTo(294.5 / 254.5, 3)
  })
})

describe('a run whose numbers are another motor’s', () => {
  const motor = practiceMotor('fennimore-24')
  const suite = practiceSuite(motor, 6)
  const spoil = (change: (values: Float64Array) => Float64Array): TestRun[] =>
    suite.map(run =>
      run.kind !== 'free-run'
        ? run
        : {
            ...run,
            recording: {
              ...run.recording,
              columns: {
                ...run.recording.columns,
                speed: change(run.recording.columns.speed!),
              },
            },
          },
    )
  test.each([
    ['speed-unit', (values: Float64Array) => values.map(w => (w * 30) / Math.PI)],
    ['speed-polarity', (values: Float64Array) => values.map(w => -w)],
  ])(
    '%s: named, left out where all are fitted together, and the rest is sound',
    (code, change) => {
      const fit = fitOf(spoil(change))
      const run = suite.find(({ kind }) => kind === 'free-run')!.id
      const said = fit.warnings.filter(warning => warning.run === run).map(w => w.code)
      expect(said).toContain(code)
      expect(said).toContain('left-out')
      const { value } = fit.parameters.backEmfConstant
      const truth = practiceTruth(motor, REALISTIC.imperfections).backEmfConstant.value
      expect(Math.abs(value! / truth - 1)).toBeLessThan(0.003)
    },
    60_000,
  )
})

describe('channels that are not all there', () => {
  const motor = practiceMotor('fennimore-24')
  const without = (run: TestRun, ...names: string[]): TestRun => ({
    ...run,
    recording: {
      ...run.recording,
      columns: Object.fromEntries(
        Object.entries(run.recording.columns).filter(([name]) => !names.includes(name)),
      ),
    },
  })

  test('no voltage: the mechanical parameters, the torque constant given', () => {
    const k = motor.magnet.backEmfConstantVsPerRad
    const truth = practiceTruth(motor, REALISTIC.imperfections)
    const runs = [1, -1].map(level =>
      without(practiceRun(motor, 'run-up', 3 + level, { level }), 'voltage'),
    )
    const fit = fitOf(runs, { fixed: { torqueConstant: k } })
    const { resistance, backEmfConstant } = fit.parameters
    for (const missing of [resistance, backEmfConstant]) {
      expect(missing.status).toBe('not-determined')
      expect(missing.reason).toMatch(/no run holds the voltage/)
    }
    expect(fit.warnings.map(({ code }) => code)).not.toContain('assumed-temperature')
    expect(fit.parameters.inertia.status).toBe('determined')
    expect(Math.abs(fit.parameters.inertia.value! / truth.inertia.value - 1)).toBeLessThan(0.05)
  })

  test('samples further apart than L/R tell no inductance', () => {
    const seldom = practiceSuite(motor, 4, { rateHz: 500 })
    const { inductance, resistance, backEmfConstant } = fitOf(seldom).parameters
    expect(inductance.status).toBe('not-determined')
    expect(inductance.reason).toMatch(/several samples within L.R/)
    expect(resistance.status).toBe('determined')
    expect(backEmfConstant.status).toBe('determined')
  }, 60_000)
})
