import { unknownId } from './names.ts'
import type { NounContext } from './noun-context.ts'
import type { SequenceStore, StoredSequence } from './store.ts'

type SequenceRow = Omit<StoredSequence, 'state'> & { state: string }

const COLUMNS = `id, motor_id AS motorId, state, started_at AS startedAt, saved_at AS savedAt,
  finished_at AS finishedAt`

export function sequenceStore({ db, date }: NounContext): SequenceStore {
  const byId = db.prepare<[number], SequenceRow>(`SELECT ${COLUMNS} FROM sequences WHERE id = ?`)
  const latestUnfinished = db.prepare<[number], SequenceRow>(
    `SELECT ${COLUMNS} FROM sequences WHERE motor_id = ? AND finished_at IS NULL
     ORDER BY id DESC LIMIT 1`,
  )
  const latestFinished = db.prepare<[number], SequenceRow>(
    `SELECT ${COLUMNS} FROM sequences WHERE motor_id = ? AND finished_at IS NOT NULL
     ORDER BY id DESC LIMIT 1`,
  )
  const insert = db.prepare(
    'INSERT INTO sequences (motor_id, state, started_at, saved_at) VALUES (?, ?, ?, ?)',
  )
  const update = db.prepare(
    'UPDATE sequences SET state = ?, saved_at = ?, finished_at = ? WHERE id = ?',
  )
  const motorExists = db.prepare<[number], number>('SELECT 1 FROM motors WHERE id = ?').pluck()

  const fromRow = (row: SequenceRow): StoredSequence => ({ ...row, state: JSON.parse(row.state) })
  const write = (id: number, state: unknown, finishedAt: string | null) => {
    if (update.run(JSON.stringify(state), date(), finishedAt, id).changes === 0) {
      throw unknownId('sequence', id)
    }
  }
  return {
    begin: (motorId, state) => {
      if (!motorExists.get(motorId)) throw unknownId('motor', motorId)
      const now = date()
      const { lastInsertRowid } = insert.run(motorId, JSON.stringify(state), now, now)
      return fromRow(byId.get(Number(lastInsertRowid))!)
    },
    save: (id, state) => write(id, state, null),
    finish: (id, state) => write(id, state, date()),
    finished: motorId => {
      const found = latestFinished.get(motorId)
      return found ? fromRow(found) : null
    },
    unfinished: motorId => {
      const found = latestUnfinished.get(motorId)
      return found ? fromRow(found) : null
    },
  }
}
