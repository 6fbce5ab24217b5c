import type { LinkCounters } from '../../src/contract/live.ts'
import type { TestPlan } from '../../src/procedure/test-plan.ts'
import type { BridgeEdge } from '../../src/records/recording.ts'
import type { RunOutcome } from './bench-session.ts'
import type { RigFacts } from './rig-facts.ts'

/** What a session asks of the recorder. No call waits for the disk but `finish`. */
export interface RunLog {
  readonly runId: number
  /** Where the store has failed the motor is stopped: nothing is driven that is not logged. */
  readonly health: RunLogHealth
  /** Copies: the caller uses the chunk's counts again. */
  samples(chunk: SampleChunk): void
  edge(edge: BridgeEdge): void
  /** Something that belongs in the run's diary: a trip, a step, a loss, a reconnection. */
  note(timeSec: number | null, code: string, text: string): void
  /** A line that could not be accepted, as it came. */
  rejected(raw: string, reason: string): void
  /** Samples that the line lost, or that the rig dropped. */
  lost(samples: number, where: 'link' | 'rig'): void
  /** Everything is on the disk when this resolves; a `WorkFault` says what is not. */
  finish(ending: RunOutcome['ending'], text: string, counters: LinkCounters): Promise<void>
}

export interface RunLogHealth {
  readonly state: 'keeping-up' | 'behind' | 'losing' | 'failed'
  readonly text: string
}

export interface RunFacts {
  readonly motorId: number
  readonly plan: TestPlan
  readonly rig: RigFacts
}

export type BeginRun = (facts: RunFacts) => Promise<RunLog>

/** Consecutive samples as raw counts: `counts[sample * channelCount + channel]`. */
export interface SampleChunk {
  /** Sequence number of the first sample, unwrapped: a jump between chunks is a counted loss. */
  readonly firstSequence: number
  /** Rig time of the first sample since the run's start, and the interval between samples. */
  readonly startSec: number
  readonly intervalSec: number
  readonly sampleCount: number
  readonly counts: Int16Array | Int32Array
}
