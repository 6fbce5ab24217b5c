import type { Quantity } from '../records/quantity.ts'
import type { RunEnding, TestKind } from '../records/test-kind.ts'

/**
 * What a session tells those who look on while a rig is connected: the command line's progress and
 * the page's live view read the same stream.
 */

/** Lowest, mean and highest reading of one channel in a short span of time, in SI. */
export interface ChannelEnvelope {
  readonly quantity: Quantity
  readonly low: number
  readonly mean: number
  readonly high: number
}

export interface LinkCounters {
  readonly samples: number
  readonly samplesLost: number
  readonly linesRejected: number
  readonly bytes: number
}

export type LiveEvent =
  | {
      readonly type: 'link'
      readonly state: 'connecting' | 'ready' | 'silent' | 'lost'
      readonly text: string
    }
  | {
      readonly type: 'run-started'
      readonly runId: number
      readonly kind: TestKind
      readonly motor: string
    }
  | { readonly type: 'step'; readonly index: number; readonly count: number; readonly text: string }
  | {
      readonly type: 'envelope'
      readonly runId: number | null
      /** Rig time since the start of the run (or of streaming, outside a run). */
      readonly fromSec: number
      readonly toSec: number
      readonly channels: readonly ChannelEnvelope[]
    }
  | { readonly type: 'counters'; readonly counters: LinkCounters }
  | {
      readonly type: 'trip'
      readonly by: 'rig' | 'host'
      readonly code: string
      readonly text: string
    }
  | {
      readonly type: 'run-ended'
      readonly runId: number
      readonly ending: RunEnding
      readonly text: string
    }
