import { readingText } from '../../base/quantity-text.ts'
import type { SheetFacts } from '../../contract/sheet-facts.ts'
import { curvePicture } from '../curve-picture.ts'
import { curveVoltage, fittedMotorOf, motorCurves } from '../motor-curves.ts'
import { heading, paragraph } from './blocks.ts'
import { type Block, gap } from './flow.ts'
import { celsius } from './sheet-words.ts'

const HEIGHT = 270

/** Curves at the voltage of the tests, with a winding at the temperature that the parameters are stated for. */
export function curves({ fit: { document: fit } }: SheetFacts, width: number): Block[] {
  const motor = fittedMotorOf(fit)
  const volt = curveVoltage(fit)
  if (typeof motor === 'string' || volt === null) return []
  const at = fit.referenceTemperatureCelsius
  const points = motorCurves(motor, volt, at)
  if (points.length === 0) return []
  const { marks } = curvePicture(points, null, { width, height: HEIGHT })
  return [
    heading(`Curves at ${readingText(volt, 'V', 3).text}, winding at ${celsius(at)}`, width),
    { height: HEIGHT, marks, withNext: true },
    paragraph('Bands: 95 % intervals, from the uncertainties of the parameters.', width, {
      ink: 'quiet',
      size: 7.8,
    }),
    gap(8),
  ]
}
