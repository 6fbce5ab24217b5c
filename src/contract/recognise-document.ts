import { z } from 'zod'

/**
 * What kind of motor a store's tests show, `recognise/1`: what `rotorfit recognise --json` prints. Every finding is
 * always present; one that the tests cannot tell says why and which test would.
 */
export const FINDING_IDS = [
  'resistanceClass',
  'brushes',
  'windingOverAngle',
  'polarity',
  'startingVoltage',
  'timeConstants',
  'rippleCount',
  'frictionByDirection',
  'turnUnevenness',
  'backlash',
  'capacitor',
  'varistor',
  'cutOut',
] as const

export const evidence = z.looseObject({
  name: z.string(),
  value: z.number(),
  unit: z.string(),
  standardUncertainty: z.number().nullable(),
})

export const motorFinding = z.looseObject({
  id: z.enum(FINDING_IDS),
  label: z.string(),
  verdict: z.enum(['seen', 'not-seen', 'cannot-say']),
  /** In words; for `cannot-say` why not. */
  text: z.string(),
  /** How far it can be trusted; null for `cannot-say`. */
  confidence: z.enum(['sure', 'likely', 'hint']).nullable(),
  evidence: z.array(evidence),
  runs: z.array(z.number().int()),
  /** Which test would tell, or tell more. */
  test: z.string().nullable(),
})

export const plateNumber = z.looseObject({
  label: z.string(),
  unit: z.string(),
  value: z.number().nullable(),
  standardUncertainty: z.number().nullable(),
  /** How it follows; for null why it does not. */
  basis: z.string(),
})

export const recogniseDocument = z.looseObject({
  schema: z.literal('recognise/1'),
  motor: z.string(),
  runs: z.array(z.number().int()),
  findings: z.array(motorFinding),
  nameplate: z.looseObject({
    lines: z.array(plateNumber),
    assumptions: z.array(z.string()),
  }),
})

export type FindingId = (typeof FINDING_IDS)[number]
export type Evidence = z.infer<typeof evidence>
export type MotorFinding = z.infer<typeof motorFinding>
export type PlateNumber = z.infer<typeof plateNumber>
export type RecogniseDocument = z.infer<typeof recogniseDocument>
