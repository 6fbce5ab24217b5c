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

export const newBatchBody = z.object({ name: z.string().min(1).max(200), type: id })
export const batchAdded = z.object({ id, name: z.string() })
export const refitBody = z.object({ against: id })

/** As `compare --json` prints it: `BatchComparison` in src/quality. */
export const batchComparison = z.looseObject({
  schema: z.literal('compare/1'),
  batch: z.string(),
  type: z.string(),
})

const rule = {
  rule: z.enum(['simple', 'conformity', 'consumer-risk']).default('conformity'),
  /** Conformity asked for, or the risk allowed. */
  level: z.coerce.number().min(0.0001).max(0.9999).optional(),
}

export const ruleQuery = z.object({
  against: z.coerce.number().int().positive(),
  ...rule,
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

/** What is not said is chosen: the first batch, its type. */
export const samplesQuery = ruleQuery
  .partial({ against: true })
  .extend({ batch: z.coerce.number().int().positive().optional() })

/** All that the view of the samples shows, judged as asked. */
export const samplesView = samplesOverview.extend({
  batch: id.nullable(),
  type: id.nullable(),
  limits: limitsPage.nullable(),
  judgement: z.discriminatedUnion('state', [
    z.object({ state: z.literal('judged'), comparison: batchComparison }),
    /** Why the batch cannot be judged, in words. */
    z.object({ state: z.literal('in-trouble'), text: z.string() }),
    /** There is no batch yet, or its type has no limits. */
    z.object({ state: z.literal('not-yet') }),
  ]),
  /** Batches that are being identified anew now. */
  refits: z.array(z.object({ batch: id, job: z.string() })),
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

/** A number about a motor that was read off by hand: an insulation test, noise, end play. */
export const handEntryBody = z.object({
  /** By name. */
  motor: z.string().min(1).max(200),
  quantity: z.string().min(1).max(120),
  unit: z.string().min(1).max(40),
  value: z.number().finite(),
  standardUncertainty: z.number().nonnegative().nullable().default(null),
  author: z.string().min(1).max(200),
})

const verdict = z.enum(['pass', 'fail', 'undecided'])

/** `SampleVerdict` in src/quality. */
export const sampleVerdict = z.object({
  motor: z.string(),
  serialNumber: z.string(),
  verdict,
  quantities: z.array(
    z.object({
      quantity: z.string(),
      label: z.string(),
      unit: z.string(),
      value: z.number().nullable(),
      standardUncertainty: z.number().nullable(),
      band: z.object({ lower: z.number().nullable(), upper: z.number().nullable() }),
      nominal: z.number().nullable(),
      verdict,
      conformity: z.number().nullable(),
      uncertaintyRatio: z.number().nullable(),
      remark: z.string(),
    }),
  ),
  standsOut: z.array(z.string()),
  warnings: z.array(z.string()),
  countsInBatch: z.boolean(),
})

const shortTestChoices = {
  ...rule,
  /** Bounds the heat that the winding takes where the reference says nothing of it. */
  motorMassKg: z.coerce.number().positive().max(1000).optional(),
  ambientCelsius: z.coerce.number().min(-60).max(200).optional(),
}

export const shortTestQuery = z.object({
  type: z.coerce.number().int().positive(),
  ...shortTestChoices,
})

export const shortTestPlan = z.object({
  /** Why no short test can be made now; null where one can. */
  refused: z.string().nullable(),
  drivenSec: z.number().nullable(),
  positions: z.number().int().nullable(),
  /** What will be known of each limited quantity, and whether that is enough to judge. */
  prediction: z.array(
    z.object({
      quantity: z.string(),
      label: z.string(),
      unit: z.string(),
      standardUncertainty: z.number().nullable(),
      uncertaintyRatio: z.number().nullable(),
      passShare: z.number().nullable(),
      basis: z.string(),
      warning: z.string(),
    }),
  ),
  /** What the check motors say of the bench. */
  warnings: z.array(z.string()),
})

export const shortTestBody = z.object({
  type: id,
  /** A sample of a batch, a check motor at the start of a shift, or a trial of a gauge study. */
  what: z.discriminatedUnion('kind', [
    z.object({
      kind: z.literal('sample'),
      batch: id,
      serialNumber: z.string().min(1).max(200),
    }),
    z.object({ kind: z.literal('check'), motor: id }),
    z.object({ kind: z.literal('trial'), motor: id, study: z.string().min(1).max(120) }),
  ]),
  operator: z.string().min(1).max(120),
  ...shortTestChoices,
})

export const shortTestAct = z.object({
  /** The shaft is as it was asked for and hands are off; or the test is put away. */
  act: z.enum(['shaft-ready', 'leave']),
})

export const shortTestView = z.object({
  what: z.enum(['sample', 'check', 'trial']),
  motor: z.string(),
  motorId: id,
  batchId: id.nullable(),
  study: z.string().nullable(),
  phase: z.enum(['making-safe', 'shaft', 'testing', 'identifying', 'done', 'ended']),
  /** What happens, what the operator is to do, or why it ended. */
  text: z.string(),
  /** 0 to 1. */
  progress: z.number(),
  verdict: sampleVerdict.nullable(),
})

export const studyQuery = z.object({ study: z.string().max(120).default('') })

export const studyPage = z.object({
  type: z.object({ id, name: z.string() }),
  studies: z.array(z.string()),
  /** Motors of the type; `fit`: the newest identification, and whether it was counted already. */
  motors: z.array(
    z.object({
      id,
      name: z.string(),
      fit: z.object({ id, createdAt: z.string(), isCounted: z.boolean() }).nullable(),
    }),
  ),
  trials: z.array(
    z.object({
      motor: z.string(),
      operator: z.string(),
      recordedAt: z.string(),
    }),
  ),
  /** A result a quantity once the study is balanced: `StudiedQuantity` in src/quality. */
  results: z.array(z.looseObject({ quantity: z.string(), label: z.string(), unit: z.string() })),
  /** Why there is none yet; empty where there is. */
  remark: z.string(),
})

export const trialBody = z.object({
  study: z.string().min(1).max(120),
  motor: id,
  operator: z.string().min(1).max(120),
})

export type NewBatchBody = z.infer<typeof newBatchBody>
export type HandEntryBody = z.infer<typeof handEntryBody>
export type ShortTestQuery = z.infer<typeof shortTestQuery>
export type ShortTestPlan = z.infer<typeof shortTestPlan>
export type ShortTestBody = z.infer<typeof shortTestBody>
export type ShortTestAct = z.infer<typeof shortTestAct>
export type ShortTestView = z.infer<typeof shortTestView>
export type StudyPage = z.infer<typeof studyPage>
export type TrialBody = z.infer<typeof trialBody>
export type SamplesOverview = z.infer<typeof samplesOverview>
export type SamplesQuery = z.output<typeof samplesQuery>
export type SamplesView = z.infer<typeof samplesView>
export type LimitsPage = z.infer<typeof limitsPage>
export type NewLimitsBody = z.infer<typeof newLimitsBody>
export type RuleQuery = z.infer<typeof ruleQuery>
export type Scanned = z.infer<typeof scanned>
