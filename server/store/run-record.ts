import type { LinkCounters } from '../../src/contract/live.ts'
import type { TestPlan } from '../../src/procedure/test-plan.ts'
import type { RigIdentity } from '../../src/records/bench.ts'
import type { Channel } from '../../src/records/channel.ts'
import type { Quantity } from '../../src/records/quantity.ts'
import type { BridgeEdge } from '../../src/records/recording.ts'
import type { RunEnding, TestKind } from '../../src/records/test-kind.ts'
import type { TestConditions } from '../../src/records/test-run.ts'

/** Where the samples of a run come from. */
export type RunOrigin = 'rig' | 'plain-rig' | 'import'

/** What is known of a run before its first sample. */
export interface NewRun {
  readonly motorId: number
  readonly kind: TestKind
  readonly origin: RunOrigin
  readonly conditions: TestConditions
  /** Bench whose calibrations apply; null where none is known. */
  readonly benchId: number | null
  readonly rig: RigIdentity | null
  /** Columns of raw counts, in the order of the samples. Empty for columns in SI. */
  readonly channels: readonly Channel[]
  readonly rateHz: number | null
  /** As it will be driven. */
  readonly plan: TestPlan | null
  /** File an import was read from, as the user named it. */
  readonly source: string | null
}

/** A run as listed: everything but its samples. */
export interface RunRecord extends NewRun {
  readonly id: number
  readonly motorName: string
  /** ISO 8601, UTC. */
  readonly startedAt: string
  readonly endedAt: string | null
  readonly ending: RunEnding
  /** Why it ended so, in words. */
  readonly endingText: string
  /** A name given by hand; empty until then. */
  readonly title: string
  readonly annotations: readonly Annotation[]
  /** Sample ranges taken out by hand: a fit does not see them. */
  readonly excluded: readonly SampleRange[]
  readonly sampleCount: number
  /** Seconds from the first to the last sample; null where rows are steady readings. */
  readonly durationSec: number | null
  /** What the columns hold. */
  readonly quantities: readonly Quantity[]
  /** Samples that never arrived or could not be stored, by where they were lost. */
  readonly losses: readonly Loss[]
  readonly rejectedLines: number
  /** As counted by the session until the end of the run. */
  readonly counters: LinkCounters | null
  /** In force when the run began; one a channel at most. */
  readonly calibrationIds: readonly number[]
  readonly deletedAt: string | null
}

export interface Annotation {
  readonly text: string
  readonly author: string
  /** ISO 8601, UTC. */
  readonly writtenAt: string
  /** Where in the run it points to; null for the run as a whole. */
  readonly timeSec: number | null
}

/** Samples `from` up to but not including `to`, counted from 0. */
export interface SampleRange {
  readonly from: number
  readonly to: number
  readonly reason: string
}

export interface Loss {
  readonly where: LossPlace
  readonly samples: number
}

/** `link`: sequence numbers that never arrived. `rig`: declared lost by it. `disk`: arrived, not stored. */
export type LossPlace = 'link' | 'rig' | 'disk'

/** A run of consecutive, evenly spaced samples of raw counts: `counts[sample * channelCount + channel]`. */
export interface SampleBlock {
  /** Unwrapped: a jump between blocks is a gap. */
  readonly firstSequence: number
  /** Rig time of the first sample since the start of the run, and the interval between samples. */
  readonly startSec: number
  readonly intervalSec: number
  readonly sampleCount: number
  readonly counts: Int16Array | Int32Array
}

/** Consecutive rows in SI. NaN is a gap. All columns, and the time where there is one, have one length. */
export interface ColumnPiece {
  /** Seconds from the start of the run, never decreasing over the whole run; null for steady readings. */
  readonly timeSec: Float64Array | null
  readonly columns: Readonly<Partial<Record<Quantity, Float64Array>>>
  /** `BRIDGE` codes. */
  readonly bridge: Uint8Array | null
}

/** Something that belongs in the diary of a run: a trip, a step, a loss, a reconnection. */
export interface RunNote {
  /** Rig time since the start of the run; null where it has none. */
  readonly timeSec: number | null
  readonly code: string
  readonly text: string
}

export interface RejectedLine {
  readonly raw: string
  readonly reason: string
}

export interface RunDiary {
  readonly edges: readonly BridgeEdge[]
  readonly notes: readonly RunNote[]
}

/**
 * Writes one run. Calls are cheap; nothing is on the disk before `commit`. The recorder's worker holds
 * one; anything else on the main thread would wait for the disk.
 */
export interface RunWriter {
  readonly runId: number
  samples(block: SampleBlock): void
  columns(piece: ColumnPiece): void
  edge(edge: BridgeEdge): void
  note(note: RunNote): void
  rejected(line: RejectedLine): void
  /** Before the block that shows the gap; a gap that nobody has accounted for counts as `link`. */
  lost(samples: number, where: LossPlace): void
  /** One transaction of everything since the last. Throws a `WorkFault` where the disk refuses. */
  commit(): void
  /** Commits, merges the small chunks that are left, closes the run. */
  finish(ending: Exclude<RunEnding, 'open'>, text: string, counters: LinkCounters | null): void
  /** Takes the run out of the store as if it had never begun. */
  abandon(): void
}

/** Lowest, mean and highest of one quantity in equal slots of time (of rows, for steady readings). */
export interface Overview {
  readonly quantity: Quantity
  /** Middle of each slot, seconds from the start of the run; row numbers for steady readings. */
  readonly x: Float64Array
  /** NaN where a slot holds no sample: a gap. */
  readonly low: Float64Array
  readonly mean: Float64Array
  readonly high: Float64Array
  /** True where every slot holds at most one sample: this is the finest there is. */
  readonly isDetail: boolean
}

/** A place where sequence numbers jump. */
export interface SequenceGap {
  readonly afterSample: number
  readonly missing: number
  readonly fromSec: number
  readonly toSec: number
}

export interface RunFilter {
  readonly motorId?: number
  readonly kind?: TestKind
  readonly ending?: RunEnding
  /** Words that the title, motor, lot, serial number or an annotation holds. */
  readonly text?: string
  readonly deleted?: boolean
  readonly limit?: number
}

export interface RunChanges {
  readonly title?: string
  readonly kind?: TestKind
  readonly motorId?: number
  readonly conditions?: TestConditions
}
