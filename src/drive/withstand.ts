import type { DriveDocument } from '../contract/drive-document.ts'
import { motorEstimate } from '../contract/motor-estimate.ts'
import type { FitDocument } from '../contract/fit-document.ts'
import type { MotorEstimate } from '../contract/motor-estimate.ts'
import type { Finding, WindingHeat, WithstandDocument } from '../contract/withstand-document.ts'
import { bridgeRecipes } from './bridge-findings.ts'
import { currentRecipes } from './current-findings.ts'
import { dcLinkRecipes } from './dc-link-findings.ts'
import { type FindingContext, work } from './finding.ts'
import { operatingPoints } from './operating-points.ts'
import { stallTimeRecipes } from './stall-time-findings.ts'

export interface IdentifiedMotor {
  readonly fit: number
  readonly document: FitDocument
  /** From a heating run; null where none was made, or none tells it. */
  readonly windingHeat: WindingHeat | null
}

/**
 * What a drive must withstand with an identified motor: findings and operating points, each with formula,
 * uncertainty and validity. What cannot be told is there too, with the reason.
 */
export function withstandDocumentOf(
  { fit, document, windingHeat }: IdentifiedMotor,
  drive: DriveDocument,
): WithstandDocument {
  const estimate = motorEstimate(document)
  return {
    schema: 'withstand/1',
    motor: document.motor,
    drive,
    fit,
    findings: withstand(estimate, drive, windingHeat),
    operatingPoints: operatingPoints(estimate, contextOf(estimate, drive)),
  }
}

export function withstand(
  estimate: MotorEstimate,
  drive: DriveDocument,
  windingHeat: WindingHeat | null,
): Finding[] {
  const context = contextOf(estimate, drive)
  return [
    ...currentRecipes(context),
    ...bridgeRecipes(context),
    ...dcLinkRecipes(context),
    ...stallTimeRecipes(context, windingHeat),
  ].map(recipe => work(recipe, estimate))
}

export const contextOf = (estimate: MotorEstimate, drive: DriveDocument): FindingContext => ({
  drive,
  referenceTemperatureCelsius: estimate.referenceTemperatureCelsius,
})
