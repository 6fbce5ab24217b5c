import type { FitDocument } from '../../src/contract/fit-document.ts'

/** An identification with just the numbers that a verdict looks at. */
export function fitOf(
  motor: string,
  resistance: number,
  coulomb: number,
  changes: Partial<FitDocument> = {},
): FitDocument {
  const parameter = (unit: string, value: number, standardUncertainty: number) => ({
    unit,
    status: 'determined' as const,
    value,
    standardUncertainty,
    lower95: null,
    upper95: null,
  })
  return {
    schema: 'fit/1',
    motor,
    runs: [1],
    referenceTemperatureCelsius: 20,
    testTemperatureCelsius: 22,
    parameters: {
      resistance: parameter('ohm', resistance, 0.005),
      coulombTorque: parameter('N m', coulomb, 1e-5),
    } as FitDocument['parameters'],
    correlation: { names: [], matrix: [] },
    budget: {},
    separate: {},
    derived: {
      noLoadCurrent: {
        unit: 'A',
        label: 'Free-run current',
        value: coulomb / 0.02,
        standardUncertainty: 1e-3,
        lower95: null,
        upper95: null,
      },
    },
    goodness: { degreesOfFreedom: 10, reducedChiSquare: 1, lackOfFit: '' },
    termination: '',
    warnings: [],
    ...changes,
  }
}
