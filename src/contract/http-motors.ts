import { z } from 'zod'
import { BRUSH_DROP_LAWS, FRICTION_LAWS } from '../records/law.ts'
import { QUANTITIES } from '../records/quantity.ts'
import { RUN_ENDINGS, TEST_KINDS } from '../records/test-kind.ts'
import { fitDocument } from './fit-document.ts'

/** Motors, their runs and what was identified, as the page and other clients see them. SI. */

const id = z.number().int().positive()
const when = z.string()

export const motorView = z.object({
  id,
  name: z.string(),
  type: z.string().nullable(),
  serialNumber: z.string(),
  lot: z.string(),
  nameplate: z.string(),
  notes: z.string(),
  createdAt: when,
  deletedAt: when.nullable(),
})

const headline = z.object({
  parameter: z.string(),
  unit: z.string(),
  value: z.number().nullable(),
  standardUncertainty: z.number().nullable(),
})

export const motorSummary = motorView.extend({
  runCount: z.number().int(),
  lastRunAt: when.nullable(),
  fit: z.object({ id, createdAt: when, headlines: z.array(headline) }).nullable(),
})

export const motorList = z.object({ motors: z.array(motorSummary), deleted: z.array(motorView) })

/** One quantity of a run drawn small: lowest and highest in equal slots; null is a gap. */
export const thumbnail = z.object({
  quantity: z.enum(QUANTITIES),
  low: z.array(z.number().nullable()),
  high: z.array(z.number().nullable()),
})

export const runSummary = z.object({
  id,
  motorId: id,
  motorName: z.string(),
  kind: z.enum(TEST_KINDS),
  origin: z.enum(['rig', 'plain-rig', 'import']),
  title: z.string(),
  startedAt: when,
  ending: z.enum(RUN_ENDINGS),
  endingText: z.string(),
  sampleCount: z.number().int(),
  durationSec: z.number().nullable(),
  quantities: z.array(z.enum(QUANTITIES)),
  samplesLost: z.number().int(),
  rejectedLines: z.number().int(),
  thumbnails: z.array(thumbnail),
  deletedAt: when.nullable(),
})

export const fitSummary = z.object({
  id,
  createdAt: when,
  runs: z.array(id),
  reducedChiSquare: z.number().nullable(),
  termination: z.string(),
  warningCount: z.number().int(),
})

export const motorPage = z.object({
  motor: motorView,
  runs: z.array(runSummary),
  deletedRuns: z.array(runSummary),
  fits: z.array(fitSummary),
  unfinishedSequence: z.object({ id, savedAt: when }).nullable(),
})

export const newMotorBody = z.object({
  name: z.string().min(1).max(200),
  serialNumber: z.string().max(200).optional(),
  lot: z.string().max(200).optional(),
  nameplate: z.string().max(2000).optional(),
  notes: z.string().max(20_000).optional(),
})

export const motorChanges = newMotorBody.partial()

/** What decides instead of the evidence, or beyond it; left out as `FitSettings` says. */
const fitLaws = {
  brushDropLaw: z.enum(BRUSH_DROP_LAWS).optional(),
  frictionLaw: z.enum(FRICTION_LAWS).optional(),
  robust: z.boolean().optional(),
  magnetPerKelvin: z.number().min(-0.05).max(0.05).optional(),
}

/** A stored fit, with what was asked of it: parameters held at a value in SI, and those always fitted. */
const fitView = z.object({
  id,
  createdAt: when,
  document: fitDocument,
  settings: z.looseObject({
    fixed: z.record(z.string(), z.number()),
    freed: z.array(z.string()),
    ...fitLaws,
  }),
})

export const identificationPage = z.object({
  motor: motorView,
  fits: z.array(fitSummary),
  fit: fitView.nullable(),
  /** A second one to compare with, where asked for. */
  other: fitView.nullable(),
  /** Runs that a fit may take, the newest last; `meant` are those that it takes unless told otherwise. */
  runs: z.array(runSummary.omit({ thumbnails: true }).extend({ meant: z.boolean() })),
  /** True where the runs have changed since the fit was made. */
  outdated: z.boolean(),
  /** A fit that is being made now. */
  job: z.string().nullable(),
})

export const fitBody = z.object({
  /** Runs by number; all measuring runs of the motor where left out. */
  runs: z.array(id).max(1000).optional(),
  /** Parameters held at a value in SI. */
  fix: z.record(z.string(), z.number().finite()).optional(),
  free: z.array(z.string()).optional(),
  referenceTemperatureCelsius: z.number().min(-60).max(200).optional(),
  ...fitLaws,
})

export const jobView = z.object({
  id: z.string(),
  kind: z.enum(['fit', 'import', 'sheet', 'refit']),
  motorId: id.nullable(),
  batchId: id.nullable(),
  state: z.enum(['working', 'done', 'failed', 'cancelled']),
  /** 0 to 1; null where it cannot be told. */
  progress: z.number().nullable(),
  text: z.string(),
  /** The fit or the run that came of it. */
  resultId: id.nullable(),
})

export type MotorView = z.infer<typeof motorView>
export type MotorSummary = z.infer<typeof motorSummary>
export type MotorList = z.infer<typeof motorList>
export type MotorPage = z.infer<typeof motorPage>
export type RunSummary = z.infer<typeof runSummary>
export type Thumbnail = z.infer<typeof thumbnail>
export type FitSummary = z.infer<typeof fitSummary>
export type IdentificationPage = z.infer<typeof identificationPage>
export type FitBody = z.infer<typeof fitBody>
export type JobView = z.infer<typeof jobView>
export type MotorChanges = z.infer<typeof motorChanges>
