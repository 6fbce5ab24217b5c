import { z } from 'zod'
import { fitDocument } from './fit-document.ts'
import { heatDocument } from './heat-document.ts'
import { INSULATION_NAMES, MAGNET_NAMES } from './heat-names.ts'
import { motorView, runSummary } from './http-motors.ts'
import { recogniseDocument } from './recognise-document.ts'
import { windingHeat } from './withstand-document.ts'

const id = z.number().int().positive()
const key = z.coerce.number().int().positive()
const airCelsius = z.coerce.number().min(-60).max(150)

/** A motor that a drive is tried on. */
export const drivePage = z.object({
  motor: motorView,
  /** Null where it was not identified yet. */
  fit: z.object({ id, document: fitDocument }).nullable(),
  windingHeat: windingHeat.nullable(),
  /** From which heating run that is, or why it is not told; null where there is no such run. */
  heatNote: z.string().nullable(),
})

export const heatQuery = z.object({
  /** A heating run of the motor; the newest where left out. */
  run: key.optional(),
  class: z.enum(INSULATION_NAMES).default('B'),
  /** Air around the motor in use, degC. */
  ambient: airCelsius.default(40),
  /** Volts at the terminals of a stall; the highest of the identification where left out. */
  stall: z.coerce.number().min(0.001).max(1000).optional(),
  magnets: z.enum(MAGNET_NAMES).optional(),
})

export const heatPage = z.object({
  motor: motorView,
  /** Heating runs, the newest first. */
  runs: z.array(runSummary.omit({ thumbnails: true })),
  outcome: z.discriminatedUnion('state', [
    z.object({
      state: z.literal('told'),
      document: heatDocument,
      stallVolt: z.number().nullable(),
      /** Where what is known beside the run comes from. */
      notes: z.array(z.string()),
    }),
    /** Why the run tells nothing, in words. */
    z.object({ state: z.literal('in-trouble'), run: id, text: z.string() }),
    z.object({ state: z.literal('no-run') }),
  ]),
})

export const recogniseQuery = z.object({
  ambient: airCelsius.default(40),
  /** For the plate, where it is known. */
  rated: z.coerce.number().min(0.1).max(1000).optional(),
})

export const recognisePage = z.object({
  motor: motorView,
  outcome: z.discriminatedUnion('state', [
    z.object({
      state: z.literal('told'),
      document: recogniseDocument,
      notes: z.array(z.string()),
    }),
    z.object({ state: z.literal('in-trouble'), text: z.string() }),
    z.object({ state: z.literal('no-run') }),
  ]),
})

export type DrivePage = z.infer<typeof drivePage>
export type HeatQuery = z.infer<typeof heatQuery>
export type HeatPage = z.infer<typeof heatPage>
export type RecogniseQuery = z.infer<typeof recogniseQuery>
export type RecognisePage = z.infer<typeof recognisePage>
