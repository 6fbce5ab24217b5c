import { describe, expect, test } from 'vitest'
import { fitDocument } from '../../src/contract/fit-document.ts'
import type { FitDocument } from '../../src/contract/fit-document.ts'
import type { FitSettings } from '../../src/identify/fit-settings.ts'
import { textbookFit } from '../../src/identify/textbook-fit.ts'
import { CLEAN } from '../../src/practice-rig/imperfections.ts'
import { practiceSuite } from '../../src/practice-rig/practice-run.ts'
import { practiceTruth } from '../../src/practice-rig/practice-truth.ts'
import { PARAMETERS, type ParameterName } from '../../src/records/parameter.ts'
import type { TestRun } from '../../src/records/test-run.ts'
import {
  F9M2_FREE_RUN,
  F9M2_FRICTION,
  F9M2_SOURCE,
  F9M2_STALL,
  F9M2_TORQUE,
} from '../reference/f9m2.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { practiceMotor } from '../support/practice.ts'
import {
  asRun,
  asTable,
  type IdealMotor,
  simulateMotor,
  textbookRuns,
  typicalMotor,
} from '../support/simulate-motor.ts'

const PLAIN: FitSettings = { fixed: {}, freed: [], referenceTemperatureCelsius: 20 }

function fitOf(runs: readonly TestRun[], settings: Partial<FitSettings> = {}): FitDocument {
  const result = textbookFit('specimen', runs, { ...PLAIN, ...settings })
  if (!result.ok) throw new Error(result.error.text)
  return fitDocument.parse(result.value)
}
const numberOf = (fit: FitDocument, name: ParameterName) => fit.parameters[name]!.value!
const codes = (fit: FitDocument) => fit.warnings.map(({ code, run }) => `${code}:${run ?? ''}`)

const NOISE = (motor: IdealMotor, volt: number) => ({
  volt: 5e-4 * volt,
  amp: (3e-4 * volt) / motor.ohm,
  radPerSec: (5e-4 * volt) / motor.k,
})
const motor = typicalMotor(20, 12)
const runs = textbookRuns(motor, 12, 10_000, { noise: NOISE(motor, 12) })
const whole = fitOf(runs)

/** What simple tests have to reach on clean recordings of motors from 1 W to 300 W. */
const WITHIN: Partial<Record<ParameterName, number>> = {
  resistance: 0.005,
  backEmfConstant: 0.005,
  inductance: 0.03,
  inertia: 0.01,
  coulombTorque: 0.02,
}

describe('clean recordings made elsewhere, no bridge column, no traits', () => {
  const sizes = [
    { watt: 1, volt: 3, rate: 20_000 },
    { watt: 8, volt: 6, rate: 10_000 },
    { watt: 60, volt: 24, rate: 10_000 },
    { watt: 300, volt: 48, rate: 5000 },
  ]
  test.each(sizes)('$watt W', ({ watt, volt, rate }) => {
    const ideal = typicalMotor(watt, volt)
    const fit = fitOf(textbookRuns(ideal, volt, rate, { noise: NOISE(ideal, volt) }))
    const truth: Partial<Record<ParameterName, number>> = {
      resistance: ideal.ohm,
      backEmfConstant: ideal.k,
      inductance: ideal.henry,
      inertia: ideal.inertia,
      coulombTorque: ideal.coulomb,
    }
    for (const [name, tolerance] of Object.entries(WITHIN)) {
      expectRelative(numberOf(fit, name as ParameterName), truth[name as ParameterName]!, tolerance)
    }
  })
})

describe('clean recordings of the practice rig', () => {
  test.each(['peppercorn-3', 'hazelnut-24', 'ploughman-24'])('%s', name => {
    const practice = practiceMotor(name)
    const truth = practiceTruth(practice, CLEAN.imperfections)
    const fit = fitOf(practiceSuite(practice, 5, { switches: CLEAN }))
    for (const [parameter, tolerance] of Object.entries(WITHIN)) {
      const of = parameter as ParameterName
      expectRelative(numberOf(fit, of), truth[of].value, tolerance)
    }
    expectRelative(numberOf(fit, 'brushDrop'), truth.brushDrop.value, 0.01)
  })
})

describe(`published hand-read tables (${F9M2_SOURCE})`, () => {
  const fit = fitOf([
    asTable(1, 'locked-rotor', F9M2_STALL),
    asTable(2, 'locked-rotor', F9M2_TORQUE),
    asTable(3, 'free-run', F9M2_FREE_RUN),
    asTable(4, 'free-run', F9M2_FRICTION),
  ])

  test('R 0.719 ± 0.018 ohm, V_b 0.647 ± 0.093 V, k_t 0.0285 ± 0.0003, k_e 0.0330 ± 0.0001', () => {
    const { resistance, brushDrop, torqueConstant, backEmfConstant } = fit.parameters
    expect(resistance!.value).toBeCloseTo(0.719, 3)
    expect(resistance!.standardUncertainty).toBeCloseTo(0.018, 3)
    expect(brushDrop!.value).toBeCloseTo(0.647, 3)
    expect(brushDrop!.standardUncertainty).toBeCloseTo(0.093, 3)
    expect(torqueConstant!.value).toBeCloseTo(0.0285, 4)
    expect(torqueConstant!.status).toBe('determined')
    expect(Math.abs(backEmfConstant!.value! - 0.033)).toBeLessThan(1e-4)
  })

  test('lack of fit of the straight line, and constants that differ, are said', () => {
    expect(fit.goodness.lackOfFit).toMatch(/^locked rotor of run 1: found/)
    expect(codes(fit)).toContain('lack-of-fit:1')
    expect(fit.warnings.find(w => w.code === 'constants-differ')!.text).toMatch(/by -13\.\d+ %/)
  })

  test('the 95 % interval uses t with the degrees of freedom of the table', () => {
    const { value, standardUncertainty, upper95 } = fit.parameters.resistance!
    // t(0.975, 12) = 2.1788
    expectRelative((upper95! - value!) / standardUncertainty!, 2.1788, 1e-4)
  })

  test('what no table tells is not determined, with the test that would', () => {
    expect(fit.parameters.inertia).toMatchObject({ status: 'not-determined', value: null })
    expect(fit.parameters.inertia!.reason).toMatch(/run-up/)
    expect(fit.parameters.inductance!.reason).toMatch(/locked-rotor recording fast enough/)
  })
})

describe('the document', () => {
  test('has every parameter, with value and interval or a reason', () => {
    expect(Object.keys(whole.parameters)).toEqual([...PARAMETERS])
    for (const [name, parameter] of Object.entries(whole.parameters)) {
      if (parameter.value === null) expect(parameter.reason, name).toBeTruthy()
      else expect(parameter.lower95!, name).toBeLessThan(parameter.upper95!)
    }
  })

  test('k_t follows from k_e where nothing measured a torque', () => {
    const { torqueConstant, backEmfConstant } = whole.parameters
    expect(torqueConstant!.status).toBe('tied')
    expect(torqueConstant!.value).toBe(backEmfConstant!.value)
    const at = (name: string) => whole.correlation.names.indexOf(name)
    expectRelative(whole.correlation.matrix[at('torqueConstant')]![at('backEmfConstant')]!, 1, 1e-9)
  })

  test('correlations are symmetric and at most one, budgets share out their variance', () => {
    const { names, matrix } = whole.correlation
    for (const [j, row] of matrix.entries()) {
      for (const [k, r] of row.entries()) {
        expect(Math.abs(r)).toBeLessThanOrEqual(1)
        expect(Math.abs(r - matrix[k]![j]!)).toBeLessThan(1e-9)
      }
    }
    for (const name of names) {
      const lines = whole.budget[name]!
      expectRelative(
        lines.reduce((sum, line) => sum + line.share, 0),
        1,
        1e-9,
      )
    }
  })

  test('resistance and drop of one straight line go against each other', () => {
    const at = (name: string) => whole.correlation.names.indexOf(name)
    expect(whole.correlation.matrix[at('resistance')]![at('brushDrop')]!).toBeLessThan(-0.5)
  })

  test('each run says what it gives on its own', () => {
    expect(Object.keys(whole.separate)).toEqual(['run-1', 'run-2', 'run-3', 'run-4'])
    expectRelative(whole.separate['run-3']!.values.inertia!.value, motor.inertia, 0.01)
  })

  test('resistance is referred to the reference temperature', () => {
    const warm = fitOf(
      runs.map(run => ({ ...run, conditions: { ...run.conditions, windingCelsius: 45 } })),
      { referenceTemperatureCelsius: 25 },
    )
    expect(warm.testTemperatureCelsius).toBe(45)
    const { value, atTestTemperature } = warm.parameters.resistance!
    expectRelative(atTestTemperature!, motor.ohm, 2e-3)
    expectRelative(value! / atTestTemperature!, (234.5 + 25) / (234.5 + 45), 1e-9)
  })

  test('calibration enters as type B, with the sign of each channel', () => {
    const traits = (gain: number) => ({
      noise: null,
      resolution: null,
      rangeLow: null,
      rangeHigh: null,
      apertureSec: 0,
      delaySec: 0,
      gainUncertainty: gain,
      zeroUncertainty: 0,
    })
    const calibrated = fitOf(
      runs.map(run => ({
        ...run,
        recording: {
          ...run.recording,
          traits: { voltage: traits(0.003), current: traits(0.004), speed: traits(0) },
        },
      })),
    )
    const share = (name: ParameterName) =>
      calibrated.parameters[name]!.standardUncertainty! / numberOf(calibrated, name)
    expectRelative(share('resistance'), Math.hypot(0.003, 0.004), 0.02)
    expectRelative(share('backEmfConstant'), 0.003, 0.02)
    expect(calibrated.budget.resistance![0]).toMatchObject({
      kind: 'B',
      source: 'calibration of current, gain',
    })
  })

  test('the fixture is taken off where the bench states it', () => {
    const fixture = {
      inertiaKgM2: motor.inertia / 4,
      inertiaUncertaintyKgM2: motor.inertia / 40,
      coulombTorqueNm: 0,
      coulombTorqueUncertaintyNm: 0,
      viscousNmsPerRad: 0,
      viscousUncertaintyNmsPerRad: 0,
    }
    const bare = fitOf(runs.map(run => ({ ...run, conditions: { ...run.conditions, fixture } })))
    expectRelative(numberOf(bare, 'inertia'), 0.75 * motor.inertia, 5e-3)
    expect(bare.budget.inertia![0]!.source).toBe('inertia of the fixture')
  })
})

describe('k_t apart from k_e', () => {
  test('a run-up with a known added inertia tells it', () => {
    const disc = 2 * motor.inertia
    const heavier = textbookRuns({ ...motor, inertia: motor.inertia + disc }, 12, 5000, {
      noise: NOISE(motor, 12),
      seed: 3,
    })[2]!
    const fit = fitOf([
      ...runs,
      { ...heavier, id: 9, conditions: { ...heavier.conditions, addedInertiaKgM2: disc } },
    ])
    expect(fit.parameters.torqueConstant!.status).toBe('determined')
    expectRelative(numberOf(fit, 'torqueConstant'), motor.k, 0.005)
    expectRelative(numberOf(fit, 'inertia'), motor.inertia, 0.01)
  })

  test('fixing it scales the torques and leaves k_e alone', () => {
    const fit = fitOf(runs, { fixed: { torqueConstant: 2 * motor.k } })
    expect(fit.parameters.torqueConstant).toMatchObject({ status: 'fixed', value: 2 * motor.k })
    expectRelative(numberOf(fit, 'backEmfConstant'), motor.k, 1e-3)
    expectRelative(numberOf(fit, 'inertia'), 2 * motor.inertia, 5e-3)
    expectRelative(numberOf(fit, 'coulombTorque'), 2 * motor.coulomb, 0.02)
  })
})

describe('parts of a full set', () => {
  test('a coast-down with its drive is enough for all but a little', () => {
    const fit = fitOf([runs[3]!])
    expectRelative(numberOf(fit, 'backEmfConstant'), motor.k, 1e-3)
    expectRelative(numberOf(fit, 'resistance'), motor.ohm, 0.005)
    expectRelative(numberOf(fit, 'inertia'), motor.inertia, 0.01)
  })

  test('one run-up cannot tell the drop: k_e carries what that may be', () => {
    const fit = fitOf([runs[2]!])
    expect(fit.parameters.brushDrop!.status).toBe('not-determined')
    const { value, standardUncertainty } = fit.parameters.backEmfConstant!
    expect(standardUncertainty! / value!).toBeGreaterThan(0.02)
    expect(Math.abs(value! - motor.k)).toBeLessThan(2 * standardUncertainty!)
  })

  test('a free run from a table alone does not tell R', () => {
    const fit = fitOf([asTable(1, 'free-run', F9M2_FREE_RUN)])
    expect(fit.parameters.resistance!.status).toBe('not-determined')
  })

  test('a locked rotor at one level is completed by the turning runs', () => {
    const one = simulateMotor(
      motor,
      [
        { bridge: 'drive', volt: 0, sec: 0.01 },
        { bridge: 'drive', volt: 4, sec: 0.05 },
      ],
      10_000,
      { locked: true, noise: NOISE(motor, 12) },
    )
    const fit = fitOf([asRun(1, 'locked-rotor', one), ...runs.slice(1)])
    expectRelative(numberOf(fit, 'resistance'), motor.ohm, 0.005)
    expectRelative(numberOf(fit, 'inductance'), motor.henry, 0.01)
    expectRelative(numberOf(fit, 'brushDrop'), motor.dropVolt, 0.02)
  })

  test('current and position of a shaft that swings to and fro tell the torque equation, k_t given', () => {
    const swing = Array.from({ length: 400 }, (_, n) => ({
      bridge: 'drive' as const,
      volt: 10 * Math.sin(n / 16),
      sec: 0.01,
    }))
    const { columns, ...recording } = simulateMotor(motor, swing, 1000, { noise: NOISE(motor, 4) })
    let angle = 0
    const position = columns.speed!.map(w => (angle += w / 1000))
    const run = asRun(1, 'mixed', {
      ...recording,
      columns: { current: columns.current!, position },
    })
    const fit = fitOf([run], { fixed: { torqueConstant: motor.k } })
    expect(fit.parameters.resistance!.status).toBe('not-determined')
    expectRelative(numberOf(fit, 'inertia'), motor.inertia, 0.02)
    expectRelative(numberOf(fit, 'coulombTorque'), motor.coulomb, 0.1)
  })

  test('fixed parameters are held and the others follow', () => {
    const fit = fitOf(runs, { fixed: { resistance: motor.ohm, coulombTorque: motor.coulomb } })
    expect(fit.parameters.resistance).toMatchObject({ status: 'fixed', standardUncertainty: 0 })
    expectRelative(numberOf(fit, 'viscousCoefficient'), motor.viscous, 0.02)
  })
})
