import type { LinkCounters } from '../../src/contract/live.ts'
import type { RunEnding } from '../../src/records/test-kind.ts'
import type { BeginRun, RunLog } from '../session/run-log.ts'
import type { ColumnPiece, LossPlace, NewRun } from '../store/run-record.ts'

/**
 * Takes what a session hears and brings it to the disk through a worker, so that the thread which keeps
 * the rig alive never waits. `openRecorder(options): Promise<Recorder>` in open-recorder.ts.
 */
export interface Recorder {
  /** Hand this to a session. Rejects with a `WorkFault` where the store cannot be written. */
  readonly begin: BeginRun
  /** A run that no session drives: a rig that only prints numbers. */
  beginRun(run: NewRun): Promise<RecordedRun>
  /** The run that was begun last and is not finished. */
  readonly current: RecordedRun | null
  /** Waits until everything handed over is on the disk (or known to be lost), and ends the worker. */
  close(): Promise<void>
}

export interface RecordedRun extends Omit<RunLog, 'finish'> {
  /** Rows in SI, in a run without channels of raw counts. */
  columns(piece: ColumnPiece): void
  /** Samples that never arrived (`link`) or that the rig dropped (`rig`); `disk` is counted here. */
  lost(samples: number, where: LossPlace): void
  finish(
    ending: Exclude<RunEnding, 'open'>,
    text: string,
    counters: LinkCounters | null,
  ): Promise<void>
  readonly health: RecorderHealth
}

export interface RecorderHealth {
  /**
   * `behind`: the disk is slower than the rig, nothing is lost yet: slow down or stop.
   * `losing`: the queue is full and samples are being dropped; they are counted.
   * `failed`: the store refuses; `text` says why and what is safe.
   */
  readonly state: 'keeping-up' | 'behind' | 'losing' | 'failed'
  readonly text: string
  readonly queuedBytes: number
  readonly samplesStored: number
  readonly samplesLost: number
}

export interface RecorderOptions {
  readonly file: string
  /** Called on the main thread whenever the state of health changes. */
  readonly onHealth?: (health: RecorderHealth) => void
  /** What was handed over outlives the death of this process at most about this much later. */
  readonly commitMs?: number
  /** From here on the recorder is `behind`; at twice as much it drops and counts. */
  readonly queueLimitBytes?: number
}
