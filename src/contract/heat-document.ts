import { z } from 'zod'

/**
 * What a heating run tells, `heat/1`: what `rotorfit heat --json` prints. SI, temperatures in degrees Celsius.
 * Every number of `numbers` and `limits` is always present; readers ignore keys they do not know.
 */
export const HEAT_NUMBER_NAMES = [
  'windingToHousing',
  'housingToAmbient',
  'windingHeat',
  'housingHeat',
  'windingTimeConstant',
  'housingTimeConstant',
] as const

export const HEAT_LIMIT_NAMES = [
  'continuousCurrent',
  'continuousTorque',
  'stallTimeCold',
  'stallTimeWarm',
] as const

export const heatNumber = z.looseObject({
  label: z.string(),
  unit: z.string(),
  status: z.enum(['determined', 'not-determined']),
  value: z.number().nullable(),
  standardUncertainty: z.number().nullable(),
  lower95: z.number().nullable(),
  upper95: z.number().nullable(),
  formula: z.string(),
  /** Where not determined: why, and which test would determine it. */
  reason: z.string().optional(),
})

export const heatDocument = z.looseObject({
  schema: z.literal('heat/1'),
  motor: z.string(),
  run: z.number().int(),
  startCelsius: z.number(),
  durationSec: z.number(),
  highestWindingCelsius: z.number(),
  highestHousingCelsius: z.number(),
  startResistanceOhm: z.number(),
  brushDropVolt: z.number(),
  numbers: z.record(z.enum(HEAT_NUMBER_NAMES), heatNumber),
  /** Reversible drop of k with the temperature of the magnets. */
  magnets: z.looseObject({
    basis: z.enum(['measured', 'declared', 'not-determined']),
    perKelvin: z.number().nullable(),
    standardUncertainty: z.number().nullable(),
    /** k over that at 20 degC with the winding at its limit in continuous duty. */
    fluxRatioAtLimit: z.number().nullable(),
    reason: z.string().optional(),
  }),
  limitsFor: z.looseObject({
    insulationClass: z.string(),
    hottestCelsius: z.number(),
    meanLimitCelsius: z.number(),
    ambientCelsius: z.number(),
    frictionWatt: z.number(),
    stall: z.string().nullable(),
  }),
  limits: z.record(z.enum(HEAT_LIMIT_NAMES), heatNumber),
  /** The run as measured and as the model has it, for a picture. */
  course: z.looseObject({
    timeSec: z.array(z.number()),
    /** Winding, brushes and leads, without what the brush drop adds. */
    windingOhm: z.array(z.number()),
    fittedWindingOhm: z.array(z.number()),
    windingCelsius: z.array(z.number()),
    fittedWindingCelsius: z.array(z.number()),
    fittedHousingCelsius: z.array(z.number()),
  }),
  goodness: z.looseObject({
    readings: z.number().int(),
    degreesOfFreedom: z.number(),
    reducedChiSquare: z.number(),
    largestResidualKelvin: z.number(),
  }),
  assumptions: z.array(z.string()),
  cautions: z.array(z.string()),
  warnings: z.array(z.looseObject({ code: z.string(), text: z.string() })),
})

export type HeatNumberName = (typeof HEAT_NUMBER_NAMES)[number]
export type HeatLimitName = (typeof HEAT_LIMIT_NAMES)[number]
export type HeatNumber = z.infer<typeof heatNumber>
export type HeatDocument = z.infer<typeof heatDocument>
