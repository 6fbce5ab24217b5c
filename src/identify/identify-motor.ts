import type { Result } from '../base/result.ts'
import type { FitDocument } from '../contract/fit-document.ts'
import type { TestRun } from '../records/test-run.ts'
import type { FitFault, FitSettings, OnFitProgress } from './fit-settings.ts'
import { textbookFit } from './textbook-fit.ts'

/** The parameters of a motor from its runs, by the best means there is. */
export function identifyMotor(
  motor: string,
  runs: readonly TestRun[],
  settings: FitSettings,
  progress: OnFitProgress,
): Result<FitDocument, FitFault> {
  progress({ fraction: 0, text: 'reading the tests one by one' })
  return textbookFit(motor, runs, settings)
}
