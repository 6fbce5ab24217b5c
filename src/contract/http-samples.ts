import { z } from 'zod'
import { SUBGROUP_SIZES } from '../records/batch.ts'

/** Production samples against their reference, as the page sees them. SI. */

const id = z.number().int().positive()

export const samplesOverview = z.object({
  types: z.array(z.object({ id, name: z.string(), hasLimits: z.boolean() })),
  batches: z.array(
    z.object({ id, name: z.string(), typeId: id.nullable(), motorCount: z.number().int() }),
  ),
})

/** As `compare --json` prints it: `BatchComparison` in src/quality. */
export const batchComparison = z.looseObject({
  schema: z.literal('compare/1'),
  batch: z.string(),
  type: z.string(),
})

export const ruleQuery = z.object({
  against: z.coerce.number().int().positive(),
  rule: z.enum(['simple', 'conformity', 'consumer-risk']).default('conformity'),
  /** Conformity asked for, or the risk allowed. */
  level: z.coerce.number().min(0.0001).max(0.9999).optional(),
  /** Samples in a row that make a subgroup of the control charts; each stands for itself where left out. */
  subgroup: z.coerce.number().int().min(SUBGROUP_SIZES.least).max(SUBGROUP_SIZES.most).optional(),
  /** Another batch to compare the means with. */
  with: z.coerce.number().int().positive().optional(),
})

const limit = z.object({
  quantity: z.string(),
  unit: z.string(),
  basis: z.enum(['absolute', 'percent', 'sigma']),
  lower: z.number().nullable(),
  upper: z.number().nullable(),
})

export const limitsPage = z.object({
  type: z.object({ id, name: z.string() }),
  /** The newest first; earlier ones are never changed. */
  sets: z.array(
    z.object({
      id,
      limits: z.array(limit),
      referenceTemperatureCelsius: z.number(),
      reference: z.array(z.string()),
      author: z.string(),
      reason: z.string(),
      setAt: z.string(),
    }),
  ),
  /** Identified motors of the type: what a reference can be chosen from. */
  motors: z.array(z.object({ id, name: z.string() })),
  /** Names that limits can be set on. */
  quantities: z.array(z.object({ quantity: z.string(), label: z.string(), unit: z.string() })),
})

export const newLimitsBody = z.object({
  reference: z.array(id).max(100),
  /** As typed: `resistance=-5%..+5%`. */
  limits: z.array(z.string().min(1).max(300)).min(1).max(100),
  referenceTemperatureCelsius: z.number().min(-50).max(200).default(20),
  author: z.string().min(1).max(200),
  reason: z.string().min(1).max(2000),
})

export const scanBody = z.object({
  serialNumber: z.string().min(1).max(200),
  type: id,
})

export const scanned = z.object({ motor: z.string(), motorId: id, isNew: z.boolean() })

export type SamplesOverview = z.infer<typeof samplesOverview>
export type LimitsPage = z.infer<typeof limitsPage>
export type NewLimitsBody = z.infer<typeof newLimitsBody>
export type RuleQuery = z.infer<typeof ruleQuery>
export type Scanned = z.infer<typeof scanned>
