import type { DriveDocument } from '../contract/drive-document.ts'
import type { MotorEstimate } from '../contract/motor-estimate.ts'
import { bridgeRecipes } from './bridge-findings.ts'
import { currentRecipes } from './current-findings.ts'
import { dcLinkRecipes } from './dc-link-findings.ts'
import { type Finding, work } from './finding.ts'
import { stallTimeRecipes } from './stall-time-findings.ts'

/**
 * What a drive must withstand with an identified motor: every finding with formula, inputs, uncertainty and
 * validity. Findings that cannot be told are there too, with the reason.
 * @param windingHeatJoulePerKelvin from a heating test; null where none was made
 */
export function withstand(
  estimate: MotorEstimate,
  drive: DriveDocument,
  windingHeatJoulePerKelvin: number | null,
): Finding[] {
  const context = { drive, referenceTemperatureCelsius: estimate.referenceTemperatureCelsius }
  return [
    ...currentRecipes(context),
    ...bridgeRecipes(context),
    ...dcLinkRecipes(context),
    ...stallTimeRecipes(context, windingHeatJoulePerKelvin),
  ].map(recipe => work(recipe, estimate))
}
