import type { LinkCounters } from '../../src/contract/live.ts'
import type { RunEnding } from '../../src/records/test-kind.ts'
import type { BridgeEdge } from '../../src/records/recording.ts'
import type {
  ColumnPiece,
  LossPlace,
  NewRun,
  RejectedLine,
  RunNote,
  SampleBlock,
} from '../store/run-record.ts'

/** One thing to be stored, in the order in which it came. */
export type LogEntry =
  | { readonly type: 'samples'; readonly block: SampleBlock }
  | { readonly type: 'columns'; readonly piece: ColumnPiece }
  | { readonly type: 'edge'; readonly edge: BridgeEdge }
  | { readonly type: 'note'; readonly note: RunNote }
  | { readonly type: 'rejected'; readonly line: RejectedLine }
  | { readonly type: 'lost'; readonly samples: number; readonly where: LossPlace }

/** To the worker. Each is answered by exactly one `FromWorker`, in order. */
export type ToWorker =
  | { readonly type: 'begin'; readonly run: NewRun }
  /** May be empty: then what failed before is tried again, and the run shows that it lives. */
  | { readonly type: 'store'; readonly entries: readonly LogEntry[] }
  | {
      readonly type: 'finish'
      readonly entries: readonly LogEntry[]
      readonly ending: Exclude<RunEnding, 'open'>
      readonly text: string
      readonly counters: LinkCounters | null
    }
  | { readonly type: 'close' }

export type FromWorker =
  | { readonly type: 'ready' }
  | { readonly type: 'begun'; readonly runId: number }
  /** With the memory of the blocks of samples that were stored, to be filled again. */
  | { readonly type: 'stored'; readonly spare: readonly ArrayBuffer[] }
  | { readonly type: 'closed' }
  | { readonly type: 'failed'; readonly text: string; readonly isBadInput: boolean }
