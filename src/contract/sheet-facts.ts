import { z } from 'zod'
import { CALIBRATION_METHODS } from '../records/calibration.ts'
import { RUN_ENDINGS, TEST_KINDS } from '../records/test-kind.ts'
import { fitDocument } from './fit-document.ts'
import { motorView } from './http-motors.ts'

/** Everything that the sheet of a motor states, `sheet/1`: what `report --out FILE.json` writes. */
export const sheetFacts = z.object({
  schema: z.literal('sheet/1'),
  program: z.string(),
  /** ISO 8601, UTC. */
  madeAt: z.string(),
  motor: z.object({
    name: z.string(),
    type: z.string().nullable(),
    serialNumber: z.string(),
    lot: z.string(),
    nameplate: z.string(),
    notes: z.string(),
  }),
  fit: z.object({ id: z.number().int(), createdAt: z.string(), document: fitDocument }),
  /** True where the runs have changed since the fit. */
  outdated: z.boolean(),
  /** The runs of the fit, in the order of their numbers. */
  runs: z.array(
    z.object({
      id: z.number().int(),
      kind: z.enum(TEST_KINDS),
      title: z.string(),
      startedAt: z.string(),
      ending: z.enum(RUN_ENDINGS),
      sampleCount: z.number().int(),
      samplesLost: z.number().int(),
      ambientCelsius: z.number().nullable(),
      supplyVolt: z.number().nullable(),
      source: z.string().nullable(),
    }),
  ),
  rigs: z.array(
    z.object({
      model: z.string(),
      serialNumber: z.string(),
      firmware: z.string(),
      simulated: z.boolean(),
    }),
  ),
  calibrations: z.array(
    z.object({
      channel: z.string(),
      gain: z.number(),
      gainUncertainty: z.number(),
      method: z.enum(CALIBRATION_METHODS),
      performedAt: z.string(),
      validUntil: z.string().nullable(),
      references: z.array(z.string()),
    }),
  ),
})

export type SheetFacts = z.infer<typeof sheetFacts>

/** A motor beside its sheet; null where it has not been identified yet. */
export const sheetPage = z.object({ motor: motorView, sheet: sheetFacts.nullable() })
export type SheetPage = z.infer<typeof sheetPage>
