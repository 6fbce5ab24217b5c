import type { RunEnding } from '../records/test-kind.ts'

/** A mean over the settled part of a step, with the standard uncertainty that its scatter leaves. */
export interface Reading {
  readonly value: number
  readonly uncertainty: number
}

/** One drive step of a run as it was measured. SI; null where there is no such channel or no such event. */
export interface StepSummary {
  readonly stepIndex: number
  readonly setVolt: number
  readonly durationSec: number
  readonly volt: Reading | null
  readonly amp: Reading | null
  readonly radPerSec: Reading | null
  /** Largest magnitudes, single spikes smoothed away. */
  readonly peakAmp: number | null
  readonly peakRadPerSec: number | null
  /** Angle turned within the step. */
  readonly turnedRad: number | null
  /** Voltage over current, late in the step over early in it (once the current has risen), minus 1. */
  readonly drift: Reading | null
  /** Energy put in between the two, and in the whole step. */
  readonly driftJoule: number | null
  readonly energyJoule: number | null
  /** Time to 63 % of the change of current, of speed. */
  readonly currentRiseSec: number | null
  readonly speedRiseSec: number | null
}

/** What the sequence needs of a finished test. From `summarise`. */
export interface TestSummary {
  readonly steps: readonly StepSummary[]
  readonly samples: number
  /** Readings before the first drive: what the channels show at rest. */
  readonly restVolt: Reading | null
  readonly restAmp: Reading | null
  readonly restRadPerSec: Reading | null
  readonly peakAmp: number | null
  readonly peakRadPerSec: number | null
  /** Frequency at which the bridge's switching shows up below half the sample rate; null: it does not. */
  readonly aliasHz: number | null
}

/** A test of the sequence that is in the store. */
export interface FinishedTest {
  readonly runId: number
  readonly ending: RunEnding
  readonly summary: TestSummary | null
}
