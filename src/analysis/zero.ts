import { failure, type Result, success } from '../base/result.ts'
import { QUANTITIES, type Quantity, UNIT_OF } from '../records/quantity.ts'
import type { TestRun } from '../records/test-run.ts'
import type { ZeroOffsets } from '../signals/run-signals.ts'
import { correlatedMean } from '../statistics/autocorrelation-time.ts'
import { standardDeviation } from '../statistics/describe.ts'
import { type AnalysisFault, type Measured, measured, type TestAnalysis } from './result.ts'

export interface ZeroAnalysis extends TestAnalysis {
  readonly kind: 'zero'
  /** Readings with nothing going on, to be taken off in the other runs. */
  readonly offsets: ZeroOffsets
  /** Standard deviation of one sample of each channel. */
  readonly noise: Readonly<Partial<Record<Quantity, number>>>
}

/** Temperatures and the place where a shaft stands have no zero to be taken off. */
const WITH_ZERO: readonly Quantity[] = ['voltage', 'current', 'speed', 'torque']
/** A change over the run by this many standard deviations of a sample means that something went on. */
const QUIET = 20

/** A zero test: mean and noise of each channel with terminals open and the shaft at rest. */
export function analyseZero(run: TestRun): Result<ZeroAnalysis, AnalysisFault> {
  const values: Record<string, Measured> = {}
  const offsets: Partial<Record<Quantity, number>> = {}
  const noise: Partial<Record<Quantity, number>> = {}
  const warnings = []
  for (const quantity of QUANTITIES) {
    const column = run.recording.columns[quantity]?.filter(value => !Number.isNaN(value))
    if (!column || column.length < 2 || !WITH_ZERO.includes(quantity)) continue
    const { mean, standardUncertainty, effectiveCount } = correlatedMean(column)
    const spread = standardDeviation(column)
    offsets[quantity] = mean
    noise[quantity] = spread
    const unit = UNIT_OF[quantity]
    values[`${quantity}Zero`] = measured(unit, mean, standardUncertainty, effectiveCount - 1)
    values[`${quantity}Noise`] = measured(
      unit,
      spread,
      spread / Math.sqrt(2 * effectiveCount),
      effectiveCount - 1,
    )
    const range = column.reduce((m, v) => Math.max(m, Math.abs(v - mean)), 0)
    if (range > QUIET * spread) {
      warnings.push({
        code: 'zero-not-quiet',
        text: `${quantity} jumps during the zero test; keep the terminals open and the shaft at rest`,
      })
    }
  }
  if (Object.keys(offsets).length === 0) {
    return failure({ code: 'missing-channel', text: 'a zero test needs at least one channel' })
  }
  return success({
    kind: 'zero',
    method: 'mean and standard deviation of each channel at rest',
    offsets,
    noise,
    values,
    fitted: {},
    warnings,
  })
}
