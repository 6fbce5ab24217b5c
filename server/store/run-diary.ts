import type { BridgeEdge } from '../../src/records/recording.ts'
import type { Loss, LossPlace, RejectedLine, RunDiary, RunNote } from './run-record.ts'
import type { Database } from './sqlite.ts'

/** Rejected lines kept as text; beyond, they are only counted: a noisy line must not fill the disk. */
export const REJECTED_LINES_KEPT = 10_000

/** Characters of a rejected line that are kept. */
const REJECTED_LENGTH = 1024

/** Everything of a run that is no sample. */
export interface DiaryTable {
  edge(runId: number, edge: BridgeEdge): void
  note(runId: number, note: RunNote): void
  reject(runId: number, line: RejectedLine): void
  lose(runId: number, where: LossPlace, samples: number): void
  read(runId: number): RunDiary
  rejected(runId: number, limit: number): RejectedLine[]
  tallies(runId: number): { losses: Loss[]; rejectedLines: number }
}

const LOSS_PLACES: readonly LossPlace[] = ['link', 'rig', 'disk']

export function diaryTable(db: Database): DiaryTable {
  const insertEdge = db.prepare(
    'INSERT INTO bridge_edges (run_id, time_sec, state, set_volt) VALUES (?, ?, ?, ?)',
  )
  const insertNote = db.prepare(
    'INSERT INTO run_notes (run_id, time_sec, code, text) VALUES (?, ?, ?, ?)',
  )
  const insertRejected = db.prepare(
    'INSERT INTO rejected_lines (run_id, raw, reason) VALUES (?, ?, ?)',
  )
  const tally = db
    .prepare<[number, string, number], number>(
      `INSERT INTO run_tallies (run_id, name, count) VALUES (?, ?, ?)
       ON CONFLICT DO UPDATE SET count = count + excluded.count RETURNING count`,
    )
    .pluck()
  const edges = db.prepare<[number], BridgeEdge>(
    `SELECT time_sec AS timeSec, state, set_volt AS setVolt FROM bridge_edges
     WHERE run_id = ? ORDER BY time_sec, id`,
  )
  const notes = db.prepare<[number], RunNote>(
    'SELECT time_sec AS timeSec, code, text FROM run_notes WHERE run_id = ? ORDER BY id',
  )
  const lines = db.prepare<[number, number], RejectedLine>(
    'SELECT raw, reason FROM rejected_lines WHERE run_id = ? ORDER BY id LIMIT ?',
  )
  const counts = db.prepare<[number], { name: string; count: number }>(
    'SELECT name, count FROM run_tallies WHERE run_id = ?',
  )
  return {
    edge: (runId, { timeSec, state, setVolt }) => {
      insertEdge.run(runId, timeSec, state, setVolt)
    },
    note: (runId, { timeSec, code, text }) => {
      insertNote.run(runId, timeSec, code, text)
    },
    reject: (runId, { raw, reason }) => {
      const sofar = tally.get(runId, 'rejected', 1)!
      if (sofar > REJECTED_LINES_KEPT) return
      // A cut through a surrogate pair would not be valid text.
      const text = Buffer.from(raw.slice(0, REJECTED_LENGTH)).toString()
      insertRejected.run(runId, text, reason)
    },
    lose: (runId, where, samples) => {
      tally.get(runId, where, samples)
    },
    read: runId => ({ edges: edges.all(runId), notes: notes.all(runId) }),
    rejected: (runId, limit) => lines.all(runId, limit),
    tallies: runId => {
      const byName = new Map(counts.all(runId).map(({ name, count }) => [name, count]))
      return {
        losses: LOSS_PLACES.flatMap(where => {
          const samples = byName.get(where)
          return samples === undefined ? [] : [{ where, samples }]
        }),
        rejectedLines: byName.get('rejected') ?? 0,
      }
    },
  }
}
