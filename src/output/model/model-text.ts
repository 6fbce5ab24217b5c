import type { MotorModel } from '../../contract/motor-model.ts'
import { modelicaPackage } from './modelica-package.ts'
import { spiceSubcircuit } from './spice-subcircuit.ts'

/** Ways in which a model leaves, by the ending of the file: SPICE, Modelica, numbers. */
export const MODEL_FORMATS = ['cir', 'mo', 'json'] as const

export type ModelFormat = (typeof MODEL_FORMATS)[number]

export function modelText(model: MotorModel, format: ModelFormat): string {
  switch (format) {
    case 'cir':
      return spiceSubcircuit(model)
    case 'mo':
      return modelicaPackage(model)
    case 'json':
      return `${JSON.stringify(model, null, 2)}\n`
    default:
      return format satisfies never
  }
}
