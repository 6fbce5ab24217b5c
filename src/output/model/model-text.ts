import type { ModelFormat } from '../../contract/model-formats.ts'
import type { MotorModel } from '../../contract/motor-model.ts'
import { modelicaPackage } from './modelica-package.ts'
import { spiceSubcircuit } from './spice-subcircuit.ts'

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
