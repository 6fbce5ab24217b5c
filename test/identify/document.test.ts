import { describe, expect, test } from 'vitest'
import { buildFitDocument, type FoundParameter, WANTED_TEST } from '../../src/identify/document.ts'
import { PARAMETERS, type ParameterName } from '../../src/records/parameter.ts'

/** A fit with one parameter of value 1. */
function fitWith(
  name: ParameterName,
  standardUncertainty: number,
  status: FoundParameter['status'] = 'determined',
) {
  const estimate = {
    value: 1,
    standardUncertainty,
    degreesOfFreedom: Number.POSITIVE_INFINITY,
  }
  return buildFitDocument({
    motor: 'mill no. 7',
    runs: [1],
    referenceTemperatureCelsius: 20,
    testTemperatureCelsius: 20,
    parameters: { [name]: { status, estimate } },
    correlation: { names: [name], matrix: [[1]] },
    budget: {},
    derived: {},
    separate: {},
    goodness: { degreesOfFreedom: 1, reducedChiSquare: 1, lackOfFit: 'not tested' },
    termination: 'made up for this test',
    warnings: [],
  }).parameters[name]!
}

describe('an interval that reaches nil determines nothing', () => {
  const above = PARAMETERS.filter(name => name !== 'offsetTorque' && name !== 'staticTorque')

  // The normal distribution has 95 % within 1.96 standard deviations (any table of it): 0.52 reaches nil, 0.5 not.
  test.each(above)('%s', name => {
    const wide = fitWith(name, 0.52)
    expect(wide).toMatchObject({ status: 'not-determined', value: null, lower95: null })
    expect(wide.reason).toBe(`its 95 % interval reaches nil; ${WANTED_TEST[name]}`)
    expect(fitWith(name, 0.5)).toMatchObject({ status: 'determined', value: 1 })
  })

  test('an offset may be nil, and what the user holds is not judged', () => {
    expect(fitWith('offsetTorque', 3)).toMatchObject({ status: 'determined', value: 1 })
    expect(fitWith('resistance', 3, 'fixed')).toMatchObject({ status: 'fixed', value: 1 })
  })
})
