import { z } from 'zod'
import { driveDocument } from './drive-document.ts'

/**
 * What a drive must withstand, `withstand/1`: what `rotorfit withstand --json` prints. SI, temperatures in degrees
 * Celsius. Uncertainties are standard and come from the motor's parameters and its heating run: the drive's own
 * figures count as given.
 */
const input = z.object({
  name: z.string(),
  value: z.number(),
  unit: z.string(),
  /** Of what was measured beside the identification. */
  standardUncertainty: z.number().optional(),
})

/** What a heating run tells of the heat that the winding takes. */
export const windingHeat = z.object({
  joulePerKelvin: z.number().positive(),
  standardUncertainty: z.number().nonnegative(),
  /** Number of the heating run. */
  run: z.number().int(),
})

/** One thing that the drive must withstand or provide. */
export const finding = z.object({
  /** Stable name, e.g. `stallCurrentCold`. */
  id: z.string(),
  label: z.string(),
  unit: z.string(),
  /** Null where it cannot be told; `reason` says why. */
  value: z.number().nullable(),
  standardUncertainty: z.number().nullable(),
  formula: z.string(),
  inputs: z.array(input),
  validity: z.string(),
  /** `rule-of-thumb`: common practice, no physics behind the number. */
  basis: z.enum(['physics', 'bound', 'rule-of-thumb']),
  reason: z.string().nullable(),
})

export const POINT_QUANTITIES = [
  'speed',
  'torque',
  'current',
  'bridgeVoltage',
  'duty',
  'supplyPower',
] as const

const uncertain = z.object({ value: z.number(), standardUncertainty: z.number() })

/** Where the motor works in one of the quadrants. Signs: positive voltage drives positive current and speed. */
export const operatingPoint = z.object({
  /** Sense of rotation. */
  sense: z.union([z.literal(1), z.literal(-1)]),
  action: z.enum(['drive', 'hold-back', 'brake']),
  label: z.string(),
  /** `weak`: lowest supply, hot winding; `strong`: highest supply, cold winding. */
  supply: z.enum(['weak', 'strong']),
  supplyVolt: z.number(),
  windingCelsius: z.number(),
  /** Null where the drive does not get there; `reason` says why. */
  values: z.record(z.enum(POINT_QUANTITIES), uncertain).nullable(),
  formula: z.string(),
  validity: z.string(),
  reason: z.string().nullable(),
})

export const withstandDocument = z.object({
  schema: z.literal('withstand/1'),
  motor: z.string(),
  drive: driveDocument,
  /** Number of the identification. */
  fit: z.number().int(),
  findings: z.array(finding),
  operatingPoints: z.array(operatingPoint),
})

export type Finding = z.infer<typeof finding>
export type WindingHeat = z.infer<typeof windingHeat>
export type FindingInput = z.infer<typeof input>
export type PointQuantity = (typeof POINT_QUANTITIES)[number]
export type OperatingPoint = z.infer<typeof operatingPoint>
export type WithstandDocument = z.infer<typeof withstandDocument>
