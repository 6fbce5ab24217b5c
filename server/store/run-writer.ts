import type { ChunkTable } from './chunks.ts'
import type { NounContext } from './noun-context.ts'
import type { OpenRuns } from './open-runs.ts'
import type { DiaryTable } from './run-diary.ts'
import type { LossPlace, RunWriter } from './run-record.ts'
import type { RunRows } from './run-rows.ts'
import { SampleIntake } from './sample-intake.ts'

/** The tables that a run is spread over. */
export interface RunTables {
  readonly rows: RunRows
  readonly chunks: ChunkTable
  readonly diary: DiaryTable
  readonly open: OpenRuns
}

export interface PatientRunWriter extends RunWriter {
  /** Stores full chunks only, for sources where a crash takes the whole run anyway. */
  commitFull(): void
  /** Full chunks wait. */
  readonly hasFull: boolean
  readonly samplesTaken: number
}

/**
 * Writes one run. Every commit stores what is new as a small chunk; when 65 536 samples have come
 * together, one large chunk takes the place of the small ones, whose pages the next small ones use.
 */
export function runWriter(
  { db, nowMs, date }: NounContext,
  tables: RunTables,
  runId: number,
  channels: number,
): PatientRunWriter {
  const { rows, chunks, diary, open } = tables
  const intake = new SampleIntake(channels)
  /** Samples of the open chunk that are stored already, as small chunks. */
  let stored = 0
  let entries: (() => void)[] = []
  /** Missing sequence numbers that somebody has accounted for already. */
  let explained = 0

  const enter = (entry: () => void) => {
    entries.push(entry)
  }
  const lose = (samples: number, where: LossPlace) => enter(() => diary.lose(runId, where, samples))

  const writeFull = () => {
    for (const chunk of intake.full) {
      chunks.removeFrom(runId, chunk.firstSample)
      chunks.insert(runId, chunk.slice(0, chunk.count))
    }
  }
  const writeEntries = () => {
    for (const entry of entries) entry()
    rows.progress(runId, intake)
    open.beat(runId, nowMs())
  }
  const settle = (storedNow: number) => {
    intake.full = []
    entries = []
    stored = storedNow
  }

  /** What is committed, and everything before it, is on the medium afterwards. */
  const onTheMedium = (commit: () => void) => {
    db.pragma('synchronous = FULL')
    try {
      commit()
    } finally {
      db.pragma('synchronous = NORMAL')
    }
  }
  /** The pages of the small chunks go back to the disk. The run is whole by now, whatever comes of this. */
  const giveBackSpace = () => {
    try {
      db.pragma('incremental_vacuum')
    } catch {
      // The next run uses them.
    }
  }

  return {
    runId,
    get hasFull() {
      return intake.full.length > 0
    },
    get samplesTaken() {
      return intake.samples
    },
    samples: block => {
      const missing = intake.block(block)
      const unexplained = missing - explained
      if (unexplained > 0) lose(unexplained, 'link')
      if (block.sampleCount > 0) explained = 0
      if (intake.open === null || intake.full.length > 0) stored = 0
    },
    columns: piece => {
      intake.piece(piece)
      if (intake.open === null || intake.full.length > 0) stored = 0
    },
    edge: edge => enter(() => diary.edge(runId, edge)),
    note: note => enter(() => diary.note(runId, note)),
    rejected: line => enter(() => diary.reject(runId, line)),
    lost: (samples, where) => {
      explained += samples
      lose(samples, where)
    },
    commit: () => {
      const live = intake.open
      const count = live?.count ?? 0
      db.transaction(() => {
        writeFull()
        if (live && count > stored) chunks.insert(runId, live.slice(stored, count))
        writeEntries()
      }).immediate()
      settle(count)
    },
    commitFull: () => {
      db.transaction(() => {
        writeFull()
        writeEntries()
      }).immediate()
      settle(0)
    },
    finish: (ending, text, counters) => {
      const last = intake.open
      const end = db.transaction(() => {
        writeFull()
        if (last) {
          chunks.removeFrom(runId, last.firstSample)
          chunks.insert(runId, last.slice(0, last.count))
        }
        writeEntries()
        rows.end(runId, ending, text, date(), counters)
        open.leave(runId)
      })
      onTheMedium(end.immediate)
      settle(last?.count ?? 0)
      giveBackSpace()
    },
    abandon: () => {
      db.transaction(() => rows.remove(runId)).immediate()
      giveBackSpace()
    },
  }
}
