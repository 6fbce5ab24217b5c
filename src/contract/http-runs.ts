import { z } from 'zod'
import { QUANTITIES } from '../records/quantity.ts'
import { TEST_KINDS } from '../records/test-kind.ts'
import { DECIMAL_SIGNS } from './csv-numbers.ts'
import { fitSummary, runSummary } from './http-motors.ts'

/** One run with its samples at the fineness of the screen, and recordings on their way in. SI. */

const id = z.number().int().positive()
const column = z.array(z.number().nullable())
const quantity = z.enum(QUANTITIES)

export const seriesQuery = z.object({
  from: z.coerce.number().optional(),
  to: z.coerce.number().optional(),
  points: z.coerce.number().int().min(10).max(4000).default(1200),
  fit: z.coerce.number().int().positive().optional(),
})

/** Lowest, mean, highest in equal slots of time; null is a gap. */
export const envelopeColumns = z.object({ low: column, mean: column, high: column })

export const seriesView = z.object({
  fromSec: z.number(),
  toSec: z.number(),
  /** Middle of each slot: seconds from the start of the run, or row numbers of steady readings. */
  x: z.array(z.number()),
  /** True where a slot holds no more than one sample. */
  isDetail: z.boolean(),
  measured: z.array(envelopeColumns.extend({ quantity })),
  /** What the fitted motor would have done under the same voltage; empty without a fit. */
  fitted: z.array(z.object({ quantity, mean: column })),
  /** Measured minus fitted, sample by sample. */
  residual: z.array(envelopeColumns.extend({ quantity, rms: z.number().nullable() })),
  fitId: id.nullable(),
  /** Why there is no fitted curve, in words; null where there is one or none was asked for. */
  fittedTrouble: z.string().nullable(),
})

export const phaseView = z.object({
  fromSec: z.number(),
  toSec: z.number(),
  state: z.enum(['drive', 'coast', 'brake', 'standstill', 'unknown']),
})

export const runPage = z.object({
  run: runSummary.omit({ thumbnails: true }).extend({
    source: z.string().nullable(),
    conditions: z.looseObject({
      ambientCelsius: z.number().nullable(),
      windingCelsius: z.number().nullable(),
      supplyVolt: z.number().nullable(),
      shaftAngleRad: z.number().nullable(),
    }),
    rig: z.object({ model: z.string(), serialNumber: z.string() }).loose().nullable(),
    rateHz: z.number().nullable(),
    annotations: z.array(
      z.object({
        text: z.string(),
        author: z.string(),
        writtenAt: z.string(),
        timeSec: z.number().nullable(),
      }),
    ),
    excluded: z.array(
      z.object({
        from: z.number(),
        to: z.number(),
        reason: z.string(),
        fromSec: z.number(),
        toSec: z.number(),
      }),
    ),
    notes: z.array(
      z.object({ timeSec: z.number().nullable(), code: z.string(), text: z.string() }),
    ),
  }),
  phases: z.array(phaseView),
  /** True where the recording does not say what the bridge did, and it was told from the samples. */
  phasesInferred: z.boolean(),
  fits: z.array(fitSummary),
  series: seriesView,
  previousRun: id.nullable(),
  nextRun: id.nullable(),
})

export const runChanges = z.object({
  title: z.string().max(200).optional(),
  kind: z.enum(TEST_KINDS).optional(),
  motor: id.optional(),
  ambientCelsius: z.number().min(-60).max(200).nullable().optional(),
  windingCelsius: z.number().min(-60).max(300).nullable().optional(),
  annotation: z
    .object({ text: z.string().min(1).max(5000), timeSec: z.number().nullable() })
    .optional(),
  /** Spans of time whose samples a fit does not see; replaces those before. */
  excluded: z
    .array(z.object({ fromSec: z.number(), toSec: z.number(), reason: z.string().max(500) }))
    .max(1000)
    .optional(),
})

export const importQuery = z.object({ name: z.string().min(1).max(300) })

export const columnChoice = z.object({
  quantity: z.enum(['time', ...QUANTITIES, 'bridge']),
  column: z.string().max(300),
  unit: z.string().max(40).nullable(),
  perSiUnit: z.number().nullable(),
})

export const importPreview = z.object({
  id: z.string(),
  name: z.string(),
  bytes: z.number(),
  header: z.array(z.string()),
  /** First rows as they stand in the file. */
  rows: z.array(z.array(z.string())),
  /** What the columns are taken for. */
  columns: z.array(
    z.object({
      quantity: z.enum(['time', ...QUANTITIES, 'bridge']),
      index: z.number().int(),
      header: z.string(),
      unit: z.string(),
      inverted: z.boolean(),
      gaps: z.number().int().nullable(),
      /** In SI; null where not looked at, or no number is in the column. */
      lowest: z.number().nullable(),
      highest: z.number().nullable(),
    }),
  ),
  ignored: z.array(z.string()),
  /** Null where the file is too large to be read through for a preview. */
  rowCount: z.number().int().nullable(),
  /** What stands in the way, with line and column and what would be right; null where nothing does. */
  trouble: z.string().nullable(),
  remarks: z.array(z.string()),
})

export const importChanges = z.object({
  /** Null: as the header says. */
  columns: z.array(columnChoice).max(20).nullable().optional(),
  invert: z.array(z.string().max(40)).max(10).optional(),
  /** Decimal sign of the file; null: as it tells itself. */
  decimal: z.enum(DECIMAL_SIGNS).nullable().optional(),
  /** Time from row to row where no column holds it; null: as the file states. */
  intervalSec: z.number().min(1e-9).max(3600).nullable().optional(),
})

export const importAccept = importChanges.extend({
  motor: z.string().min(1).max(200),
  kind: z.enum(TEST_KINDS),
  temperatureCelsius: z.number().min(-60).max(300).nullable().optional(),
})

export type SeriesView = z.infer<typeof seriesView>
export type SeriesQuery = z.infer<typeof seriesQuery>
export type RunPage = z.infer<typeof runPage>
export type PhaseView = z.infer<typeof phaseView>
export type RunChangesBody = z.infer<typeof runChanges>
export type ImportPreview = z.infer<typeof importPreview>
export type ImportChanges = z.infer<typeof importChanges>
export type ImportAccept = z.infer<typeof importAccept>
export type ColumnChoiceBody = z.infer<typeof columnChoice>
