import { describe, expect, test } from 'vitest'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import { errorsInVariables } from '../../src/statistics/errors-in-variables.ts'
import { lineWithBothErrors, straightLine } from '../../src/statistics/straight-line.ts'
import { expectRelative } from '../support/expect-relative.ts'

describe('calibration line of a thermometer (JCGM 100:2008, H.3)', () => {
  const t = [
    21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.01, 26.511,
  ].map(v => v - 20)
  const b = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.16]
  const line = straightLine(t, b)
  if (!line.ok) throw new Error(line.error)
  const { intercept, slope, covariance, interceptUncertainty, slopeUncertainty } = line.value

  const published = [
    { name: 'intercept', got: intercept, want: -0.1712, digit: 1e-4 },
    { name: 'its uncertainty', got: interceptUncertainty, want: 0.0029, digit: 1e-4 },
    { name: 'slope', got: slope, want: 0.00218, digit: 1e-5 },
    { name: 'its uncertainty', got: slopeUncertainty, want: 0.00067, digit: 1e-5 },
    {
      name: 'correlation',
      got: covariance / (interceptUncertainty * slopeUncertainty),
      want: -0.93,
      digit: 1e-3,
    },
    {
      name: 'residual standard deviation',
      got: Math.sqrt(line.value.chiSquare / 9),
      want: 0.0035,
      digit: 1e-4,
    },
    { name: 'correction at 30 degC', got: intercept + 10 * slope, want: -0.1494, digit: 1e-4 },
    {
      name: 'its uncertainty',
      got: Math.sqrt(interceptUncertainty ** 2 + 100 * slopeUncertainty ** 2 + 20 * covariance),
      want: 0.0041,
      digit: 1e-4,
    },
  ]
  test.each(published)('$name is $want as printed', ({ got, want, digit }) =>
    expect(Math.abs(got - want)).toBeLessThanOrEqual(digit / 2),
  )

  test('recomputed in high precision', () => {
    expectRelative(intercept, -0.17120379013135, 1e-12)
    expectRelative(slope, 0.00218269773988725, 1e-12)
    expectRelative(line.value.chiSquare, 1.10096583109e-4, 1e-11)
    expect(line.value.degreesOfFreedom).toBe(9)
  })
})

describe("Pearson's data with York's weights", () => {
  const x = [0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4]
  const y = [5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5]
  const sigma = (w: number[]) => w.map(weight => 1 / Math.sqrt(weight))
  const sigmaX = sigma([1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1])
  const sigmaY = sigma([1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500])
  const line = lineWithBothErrors(x, y, sigmaX, sigmaY)
  if (!line.ok) throw new Error(line.error)

  const checks = [
    { name: 'intercept', got: line.value.intercept, want: 5.47991022403, tolerance: 1e-11 },
    { name: 'slope', got: line.value.slope, want: -0.48053340745, tolerance: 1e-10 },
    {
      name: 'u(intercept)',
      got: line.value.interceptUncertainty,
      want: 0.294970735,
      tolerance: 1e-8,
    },
    { name: 'u(slope)', got: line.value.slopeUncertainty, want: 0.057985009, tolerance: 1e-8 },
    { name: 'χ²/8', got: line.value.chiSquare / 8, want: 1.483294149, tolerance: 1e-9 },
  ]
  test.each(checks)(
    '$name is $want (Reed 1989; York et al., Am. J. Phys. 72 (2004) 367; values as quoted in public test suites)',
    ({ got, want, tolerance }) => expectRelative(got, want, tolerance),
  )
})

describe('errors in variables', () => {
  const normal = seededNormal(seededUniform(11))
  const truth = Array.from({ length: 400 }, (_, i) => i / 40)
  const x = truth.map(v => v + 0.8 * normal())
  const y = truth.map(v => 1 + 2 * v + 0.3 * normal())
  const sigma = (value: number) => x.map(() => value)

  test('a noisy abscissa flattens the ordinary line and not this one', () => {
    const ordinary = straightLine(x, y)
    const both = lineWithBothErrors(x, y, sigma(0.8), sigma(0.3))
    if (!ordinary.ok || !both.ok) throw new Error('no line')
    expect(ordinary.value.slope).toBeLessThan(1.9)
    expect(Math.abs(both.value.slope - 2)).toBeLessThan(3 * both.value.slopeUncertainty)
    expect(both.value.chiSquare).toBeGreaterThan(330)
    expect(both.value.chiSquare).toBeLessThan(470)
  })

  test('scatter beyond the stated errors is found and widens the uncertainties', () => {
    const spread = truth.map(v => 1 + 2 * v + 0.5 * normal())
    const ones = { values: sigma(1), sigmas: null }
    const fit = errorsInVariables([ones, { values: truth, sigmas: null }], spread, sigma(0.1), {
      excess: true,
    })
    if (!fit.ok) throw new Error(fit.error)
    expectRelative(fit.value.excess, Math.sqrt(0.5 ** 2 - 0.1 ** 2), 0.1)
    expect(fit.value.degreesOfFreedom).toBe(398)
  })

  test('without stated errors it is ordinary least squares', () => {
    const ones = { values: sigma(1), sigmas: null }
    const fit = errorsInVariables([ones, { values: x, sigmas: null }], y, sigma(0), {
      excess: true,
    })
    const ordinary = straightLine(x, y)
    if (!fit.ok || !ordinary.ok) throw new Error('no fit')
    expectRelative(fit.value.coefficients[1]!, ordinary.value.slope, 1e-10)
    expectRelative(Math.sqrt(fit.value.covariance[1]![1]!), ordinary.value.slopeUncertainty, 1e-6)
  })

  test('a prior holds what the data cannot tell', () => {
    const ones = { values: sigma(1), sigmas: null }
    const fit = errorsInVariables([ones, ones], y, sigma(0.3), {
      prior: {
        mean: [0, 5],
        information: [
          [0, 0],
          [0, 1 / 0.01 ** 2],
        ],
      },
    })
    if (!fit.ok) throw new Error(fit.error)
    expectRelative(fit.value.coefficients[1]!, 5, 1e-6)
    expectRelative(Math.sqrt(fit.value.covariance[1]![1]!), 0.01, 1e-6)
  })

  test('dependent columns without a prior are refused', () => {
    const ones = { values: sigma(1), sigmas: null }
    expect(errorsInVariables([ones, ones], y, sigma(0.3)).ok).toBe(false)
  })
})
