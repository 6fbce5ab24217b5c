import { InputFault } from '../../src/base/faults.ts'
import type { HandEntry } from '../../src/quality/judged-quantity.ts'
import { checkedName, unknownId } from './names.ts'
import type { NounContext } from './noun-context.ts'

/** A number about a motor that somebody typed in: an insulation test, noise, end play. */
export interface StoredHandEntry extends HandEntry {
  readonly id: number
  readonly motorId: number
  readonly author: string
  /** ISO 8601, UTC. */
  readonly writtenAt: string
}

export interface HandEntryStore {
  add(entry: Omit<StoredHandEntry, 'id' | 'writtenAt'>): StoredHandEntry
  /** The latest of each quantity. */
  current(motorId: number): StoredHandEntry[]
  history(motorId: number): StoredHandEntry[]
}

const COLUMNS = `id, motor_id AS motorId, quantity, unit, value, standard_uncertainty AS standardUncertainty,
  author, written_at AS writtenAt`

export function handEntryStore({ db, date }: NounContext): HandEntryStore {
  const ofMotor = db.prepare<[number], StoredHandEntry>(
    `SELECT ${COLUMNS} FROM hand_entries WHERE motor_id = ? ORDER BY id`,
  )
  const byId = db.prepare<[number | bigint], StoredHandEntry>(
    `SELECT ${COLUMNS} FROM hand_entries WHERE id = ?`,
  )
  const insert = db.prepare(
    `INSERT INTO hand_entries (motor_id, quantity, unit, value, standard_uncertainty, author, written_at)
     VALUES (?, ?, ?, ?, ?, ?, ?)`,
  )
  const motorExists = db.prepare<[number], number>('SELECT 1 FROM motors WHERE id = ?').pluck()
  return {
    add: ({ motorId, quantity, unit, value, standardUncertainty, author }) => {
      if (!motorExists.get(motorId)) throw unknownId('motor', motorId)
      if (!Number.isFinite(value)) throw new InputFault(`${quantity}: ${value} is not a number`)
      const row = insert.run(
        motorId,
        checkedName('quantity', quantity),
        unit,
        value,
        standardUncertainty,
        author,
        date(),
      )
      return byId.get(row.lastInsertRowid)!
    },
    current: motorId => [
      ...new Map(ofMotor.all(motorId).map(entry => [entry.quantity, entry])).values(),
    ],
    history: motorId => ofMotor.all(motorId),
  }
}
