import { z } from 'zod'
import { PARAMETERS } from '../records/parameter.ts'

/**
 * The result of an identification, `fit/1`: what `rotorfit fit --json` prints, what the store keeps
 * and what the page draws. Every parameter is always present; readers ignore keys they do not know.
 */
export const PARAMETER_STATUSES = [
  'determined',
  'tied',
  'fixed',
  'not-determined',
  'not-in-model',
] as const

export const parameterResult = z.looseObject({
  unit: z.string(),
  status: z.enum(PARAMETER_STATUSES),
  /** At the reference temperature; null unless determined, tied or fixed. */
  value: z.number().nullable(),
  standardUncertainty: z.number().nullable(),
  lower95: z.number().nullable(),
  upper95: z.number().nullable(),
  /** The same quantity at the mean winding temperature of the tests, where it depends on temperature. */
  atTestTemperature: z.number().nullable().optional(),
  /** Where not determined: why, and which test would determine it. */
  reason: z.string().optional(),
})

export const fitWarning = z.looseObject({
  code: z.string(),
  text: z.string(),
  run: z.number().int().optional(),
})

/** One line of an uncertainty budget: a source and the standard uncertainty it alone causes. */
export const budgetLine = z.object({
  source: z.string(),
  kind: z.enum(['A', 'B']),
  standardUncertainty: z.number(),
  /** Share of the variance, 0 to 1. */
  share: z.number(),
})

/** A number that follows from the parameters, with propagated uncertainty. */
export const derivedResult = z.looseObject({
  unit: z.string(),
  label: z.string(),
  value: z.number().nullable(),
  standardUncertainty: z.number().nullable(),
  lower95: z.number().nullable(),
  upper95: z.number().nullable(),
})

/** What one test says on its own, textbook fashion. */
export const separateResult = z.looseObject({
  run: z.number().int(),
  kind: z.string(),
  method: z.string(),
  values: z.record(
    z.string(),
    z.looseObject({
      unit: z.string(),
      value: z.number(),
      standardUncertainty: z.number().nullable(),
    }),
  ),
})

/** What the fitted motor needs beside the parameters to be simulated; nil where it is left out. */
export const fittedModel = z.looseObject({
  /** Current at which the brush drop has reached 76 % of its full value; 0: it is there at once. */
  brushKneeAmp: z.number(),
  /** Relative rise of the resistance a unit of ∫i²dt, 1/(A² s), and decay of the excess, 1/s. */
  heatingPerA2s: z.number(),
  coolingPerSec: z.number(),
  /** By how much viscous friction is larger forward than the mean of both directions, N·m·s/rad. */
  viscousDifferenceNmsPerRad: z.number().optional(),
  /**
   * What the fit went with for parameters that it did not determine: no result, but the others were found
   * beside them, and only together do they say what the motor does. Their correlations stand with the others.
   */
  beside: z
    .partialRecord(
      z.enum(PARAMETERS),
      z.object({ value: z.number(), standardUncertainty: z.number() }),
    )
    .optional(),
})

export const fitDocument = z.looseObject({
  schema: z.literal('fit/1'),
  motor: z.string(),
  runs: z.array(z.number().int()),
  referenceTemperatureCelsius: z.number(),
  testTemperatureCelsius: z.number().nullable(),
  parameters: z.record(z.enum(PARAMETERS), parameterResult),
  correlation: z.object({ names: z.array(z.string()), matrix: z.array(z.array(z.number())) }),
  budget: z.record(z.string(), z.array(budgetLine)),
  derived: z.record(z.string(), derivedResult),
  separate: z.record(z.string(), separateResult),
  goodness: z.looseObject({
    degreesOfFreedom: z.number(),
    reducedChiSquare: z.number().nullable(),
    lackOfFit: z.string(),
  }),
  termination: z.string(),
  model: fittedModel.optional(),
  warnings: z.array(fitWarning),
})

export type ParameterStatus = (typeof PARAMETER_STATUSES)[number]
export type ParameterResult = z.infer<typeof parameterResult>
export type DerivedResult = z.infer<typeof derivedResult>
export type SeparateResult = z.infer<typeof separateResult>
export type BudgetLine = z.infer<typeof budgetLine>
export type FitWarning = z.infer<typeof fitWarning>
export type FittedModel = z.infer<typeof fittedModel>
export type FitDocument = z.infer<typeof fitDocument>
