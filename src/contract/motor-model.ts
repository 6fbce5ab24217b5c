import { z } from 'zod'
import { PARAMETERS } from '../records/parameter.ts'
import { QUANTITIES } from '../records/quantity.ts'
import { fitWarning, PARAMETER_STATUSES } from './fit-document.ts'

/**
 * A motor as numbers to simulate with, `motor-model/1`: what `rotorfit export-model --out FILE.json` writes
 * and what the SPICE and Modelica texts are made from. SI, temperatures in degrees Celsius. Its JSON schema
 * is schemas/motor-model-1.schema.json. Readers ignore keys they do not know.
 */
const modelParameter = z.looseObject({
  symbol: z.string().describe('as in the equations'),
  unit: z.string(),
  value: z
    .number()
    .describe(
      'at the reference temperature; 0 where the term is not in the model; where not determined, what the others were found beside',
    ),
  standardUncertainty: z.number().nullable(),
  lower95: z.number().nullable(),
  upper95: z.number().nullable(),
  status: z.enum(PARAMETER_STATUSES),
})

export const motorModel = z.looseObject({
  schema: z.literal('motor-model/1'),
  motor: z.string(),
  fit: z.number().int().describe('number of the identification in its store'),
  referenceTemperatureCelsius: z.number(),
  copperZeroCelsius: z.number().describe('R(T)/R(Tref) = (this + T)/(this + Tref)'),
  equations: z.array(z.string()),
  parameters: z.record(z.enum(PARAMETERS), modelParameter),
  correlation: z.object({ names: z.array(z.string()), matrix: z.array(z.array(z.number())) }),
  brushKneeAmp: z
    .number()
    .describe('current at 76 % of the brush drop; 0: the drop is there at once'),
  viscousDifferenceNmsPerRad: z
    .number()
    .describe('adds to B when turning forward, subtracts backward'),
  heatingPerA2s: z.number().describe('relative rise of R a unit of the integral of i², 1/(A² s)'),
  coolingPerSec: z.number().describe('decay of that rise, 1/s'),
  smoothing: z
    .object({
      brushKneeAmp: z.number(),
      slowSpeedRadPerSec: z.number(),
    })
    .describe(
      'widths over which the SPICE and Modelica texts round off the steps at i = 0 and w = 0',
    ),
  tested: z
    .array(
      z.object({
        quantity: z.enum(QUANTITIES),
        unit: z.string(),
        lowest: z.number(),
        highest: z.number(),
      }),
    )
    .describe(
      'what was measured in the runs of the fit: outside of it the model is an extrapolation',
    ),
  warnings: z.array(fitWarning),
})

export type MotorModel = z.infer<typeof motorModel>
