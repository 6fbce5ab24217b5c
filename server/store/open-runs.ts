import { isAlive, ownIdentity, type ProcessIdentity } from './process-identity.ts'
import type { Database } from './sqlite.ts'

/** Which runs are being written, and by whom. */
export interface OpenRuns {
  enter(runId: number, nowMs: number): void
  /** The writer lives. */
  beat(runId: number, nowMs: number): void
  leave(runId: number): void
  /** Runs whose writer has died. */
  orphans(nowMs: number): number[]
}

interface OpenRunRow extends ProcessIdentity {
  runId: number
  beatMs: number
}

export function openRuns(db: Database): OpenRuns {
  const insert = db.prepare(
    `INSERT INTO open_runs (run_id, place, process_id, process_start, beat_ms)
     VALUES (@runId, @place, @processId, @processStart, @beatMs)`,
  )
  const update = db.prepare('UPDATE open_runs SET beat_ms = ? WHERE run_id = ?')
  const remove = db.prepare('DELETE FROM open_runs WHERE run_id = ?')
  const all = db.prepare<[], OpenRunRow>(
    `SELECT run_id AS runId, place, process_id AS processId, process_start AS processStart,
       beat_ms AS beatMs FROM open_runs`,
  )
  return {
    enter: (runId, nowMs) => {
      insert.run({ ...ownIdentity(), runId, beatMs: nowMs })
    },
    beat: (runId, nowMs) => {
      update.run(nowMs, runId)
    },
    leave: runId => {
      remove.run(runId)
    },
    orphans: nowMs =>
      all
        .all()
        .filter(writer => !isAlive(writer, writer.beatMs, nowMs))
        .map(writer => writer.runId),
  }
}
