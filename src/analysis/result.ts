import type { ParameterName } from '../records/parameter.ts'
import type { Quantity } from '../records/quantity.ts'
import type { TestKind } from '../records/test-kind.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'

/** A number that a test gives on its own, in SI. */
export interface Measured extends Estimate {
  readonly unit: string
}

/** What is known of the motor before a test is analysed; resistance at the temperature of that test. */
export type KnownParameters = Readonly<Partial<Record<ParameterName, Estimate>>> & {
  /** Between resistance and brush drop, where both come from the same straight line. */
  readonly resistanceBrushCovariance?: number
  /** Current over which the brush drop builds up; none: the drop is constant. */
  readonly brushKneeAmp?: number
  /** Lowest current at which the drop was seen; below it, it may be smaller. */
  readonly brushSeenFromAmp?: number
}

export interface AnalysisWarning {
  readonly code: string
  readonly text: string
}

/** Why a test says nothing: one line, with what would be right. */
export interface AnalysisFault {
  readonly code: 'missing-channel' | 'no-usable-data' | 'wrong-test' | 'speed-polarity'
  readonly text: string
}

/** Fitted curves over the run's own rows; NaN where the analysis models nothing. */
export type FittedColumns = Readonly<Partial<Record<Quantity, Float64Array>>>

/** What every analysis has in common. */
export interface TestAnalysis {
  readonly kind: TestKind
  /** How the numbers came about, in a sentence. */
  readonly method: string
  readonly values: Readonly<Record<string, Measured>>
  readonly fitted: FittedColumns
  readonly warnings: readonly AnalysisWarning[]
}

export function measured(
  unit: string,
  value: number,
  standardUncertainty: number,
  degreesOfFreedom: number = Number.POSITIVE_INFINITY,
): Measured {
  return { unit, value, standardUncertainty, degreesOfFreedom }
}
