import { describe, expect, test } from 'vitest'
import { deriveQuantities } from '../../src/identify/derived.ts'
import { readingOf } from '../../src/quality/judged-quantity.ts'
import { analyseBatch } from '../../src/quality/batch-analysis.ts'
import type { ResolvedLimit } from '../../src/quality/resolve-limits.ts'
import { judgeSample } from '../../src/quality/verdict.ts'
import { DEFAULT_DECISION_RULE } from '../../src/quality/conformity.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { fitOf } from '../support/fit-documents.ts'

const limits: ResolvedLimit[] = [
  ['resistance', 'ohm', 0.9, 1.1, 1],
  ['coulombTorque', 'N m', 0.8e-3, 1.2e-3, 1e-3],
].map(([quantity, unit, lower, upper, nominal]) => ({
  quantity: quantity as string,
  unit: unit as string,
  band: { lower: lower as number, upper: upper as number },
  nominal: nominal as number,
  poolSigma: null,
  atVolt: null,
}))

const judge = (changes: object, otherType: string | null = null) =>
  judgeSample(
    {
      motor: 'm',
      serialNumber: '1',
      fit: fitOf('m', 1, 1e-3, changes),
      entries: [],
      otherType,
    },
    limits,
    20,
    DEFAULT_DECISION_RULE,
  )

describe('what cannot be compared is undecided, and says why', () => {
  test('tested at 45 °C: resistance is converted, friction is not', () => {
    const verdict = judge({ testTemperatureCelsius: 45 })
    expect(verdict.verdict).toBe('undecided')
    expect(verdict.quantities.map(q => q.verdict)).toEqual(['pass', 'undecided'])
    expect(verdict.quantities[1]!.remark).toContain('tested at 45 °C against limits at 20 °C')
    expect(verdict.warnings).toHaveLength(1)
  })

  test('a number that was typed into the identification is not measured', () => {
    const { parameters } = fitOf('m', 1, 1e-3)
    const held = { ...parameters.coulombTorque!, status: 'fixed', standardUncertainty: 0 }
    const verdict = judge({ parameters: { ...parameters, coulombTorque: held } })
    expect(verdict.verdict).toBe('undecided')
    expect(verdict.quantities.map(q => q.verdict)).toEqual(['pass', 'undecided'])
    expect(verdict.quantities[1]!.remark).toMatch(
      /^not measured: sliding friction torque was held at 1/,
    )
  })

  test('within 15 K nothing is held back', () => {
    expect(judge({ testTemperatureCelsius: 34 }).verdict).toBe('pass')
  })

  test('identified for another reference temperature: nothing is judged', () => {
    const verdict = judge({ referenceTemperatureCelsius: 25 })
    expect(verdict.quantities.every(q => q.verdict === 'undecided')).toBe(true)
    expect(verdict.warnings[0]).toContain('--reference-temperature 20')
  })

  test('another type does not count in the indices', () => {
    const stranger = judge({}, 'OTHER-1')
    expect(stranger).toMatchObject({ verdict: 'undecided', countsInBatch: false })
    const [resistance] = analyseBatch([judge({}), judge({}), stranger])
    expect(resistance!.values).toHaveLength(2)
  })
})

describe('a number as it is judged', () => {
  test('a derived quantity is stated anew at the voltage of the reference', () => {
    const values = {
      resistance: 2,
      backEmfConstant: 0.02,
      torqueConstant: 0.02,
      coulombTorque: 1e-3,
      brushDrop: 0,
      viscousCoefficient: 0,
      windageCoefficient: 0,
    }
    const names = Object.keys(values) as (keyof typeof values)[]
    const covariance = names.map((_, i) => names.map((__, j) => (i === j ? 1e-20 : 0)))
    const at = (voltageVolt: number) =>
      deriveQuantities({ values, names, covariance, voltageVolt, degreesOfFreedom: 50 })
    const parameters = Object.fromEntries(
      names.map(name => [
        name,
        {
          unit: '',
          status: 'determined' as const,
          value: values[name],
          standardUncertainty: 1e-10,
          lower95: null,
          upper95: null,
        },
      ]),
    )
    const fit = fitOf('m', 2, 1e-3, {
      parameters: parameters as never,
      derived: at(11.7),
      correlation: { names, matrix: names.map((_, i) => names.map((__, j) => (i === j ? 1 : 0))) },
    })
    // ω = (V − R T_c/k)/k, by hand.
    expectRelative(readingOf(fit, 'noLoadSpeed')!.value, (11.7 - 0.1) / 0.02, 1e-9)
    const again = readingOf(fit, 'noLoadSpeed', 12)!
    expectRelative(again.value, (12 - 0.1) / 0.02, 1e-9)
    expect(again.label).toContain('12 V')
  })

  test('few degrees of freedom widen what is judged with', () => {
    const fit = fitOf('m', 1, 1e-3)
    const parameter = fit.parameters.resistance!
    // t of 4 degrees of freedom, 97.5 %: 2.776. Source: any t table.
    fit.parameters.resistance = {
      ...parameter,
      lower95: 1 - 2.776 * 0.005,
      upper95: 1 + 2.776 * 0.005,
    }
    expectRelative(readingOf(fit, 'resistance')!.standardUncertainty, (0.005 * 2.776) / 1.96, 1e-4)
  })
})
