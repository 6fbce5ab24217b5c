import type { RunEnding } from '../records/test-kind.ts'

/** Robust means over the settled part of one drive step of a run. SI; null where there is no channel. */
export interface StepSummary {
  readonly stepIndex: number
  readonly setVolt: number
  readonly durationSec: number
  readonly meanVolt: number | null
  readonly meanAmp: number | null
  readonly meanRadPerSec: number | null
  /** Standard uncertainty of the means, from the scatter of the settled samples. */
  readonly uncertaintyVolt: number | null
  readonly uncertaintyAmp: number | null
  readonly uncertaintyRadPerSec: number | null
  readonly peakAmp: number | null
  readonly peakRadPerSec: number | null
  /** Voltage over current early and late in the step (after the current has risen), for the rise of R. */
  readonly earlyOhm: number | null
  readonly lateOhm: number | null
  /** Standard uncertainty of `lateOhm − earlyOhm`. */
  readonly driftUncertaintyOhm: number | null
  /** Electrical energy put in, ∫ v i dt. */
  readonly energyJoule: number | null
  /** Time from the step's start to 63 % of the change of current, or of speed. */
  readonly currentRiseSec: number | null
  readonly speedRiseSec: number | null
  /** Time from the step's start until the shaft stood still; null if it did not, or never turned. */
  readonly stopSec: number | null
}

/** What the sequence needs of a finished test. From `summarise`. */
export interface TestSummary {
  readonly steps: readonly StepSummary[]
  readonly peakAmp: number | null
  readonly peakVolt: number | null
  readonly peakRadPerSec: number | null
  readonly samples: number
}

/** A test of the sequence that is in the store. */
export interface FinishedTest {
  readonly runId: number
  readonly ending: RunEnding
  readonly summary: TestSummary | null
}
