import { failure, type Result, success } from '../base/result.ts'
import type { FitDocument } from '../contract/fit-document.ts'
import type { TestRun } from '../records/test-run.ts'
import { CANCELLED, type FitFault, type FitSettings, type OnFitProgress } from './fit-settings.ts'
import { jointFit } from './joint-fit.ts'
import { textbookFit } from './textbook-fit.ts'
import { wordedWithoutVoltage } from './without-voltage.ts'

/**
 * The parameters of a motor from its runs: each test on its own first, then all runs together.
 * @param like an identified motor of its kind, from which the search begins where the two are alike: sooner
 *   done, with the same result but for a small part of its uncertainty
 */
export function identifyMotor(
  motor: string,
  runs: readonly TestRun[],
  settings: FitSettings,
  progress: OnFitProgress,
  like: FitDocument | null = null,
): Result<FitDocument, FitFault> {
  if (!progress({ fraction: 0, text: 'reading the tests one by one' })) return failure(CANCELLED)
  const separate = textbookFit(motor, runs, settings)
  if (!separate.ok) return separate
  const fit = jointFit(separate.value, motor, runs, settings, progress, like)
  return fit.ok ? success(wordedWithoutVoltage(fit.value, runs)) : fit
}
