import type { PredictedQuantity } from '../../src/quality/predict-uncertainty.ts'
import { checkedName, unknownId } from './names.ts'
import type { NounContext } from './noun-context.ts'

/** A short test of a sample: which identification came of it, and what was told beforehand. */
export interface ShortTestRecord {
  readonly id: number
  readonly motorId: number
  readonly limitSetId: number
  readonly fitId: number
  readonly operator: string
  readonly prediction: readonly PredictedQuantity[]
  /** ISO 8601, UTC. */
  readonly testedAt: string
}

export interface ShortTestStore {
  add(test: Omit<ShortTestRecord, 'id' | 'testedAt'>): ShortTestRecord
  /** The latest of motors of a type, the newest first. */
  ofType(typeId: number, limit: number): ShortTestRecord[]
}

type Row = Omit<ShortTestRecord, 'prediction'> & { prediction: string }

const COLUMNS = `t.id, t.motor_id AS motorId, t.limit_set_id AS limitSetId, t.fit_id AS fitId, t.operator,
  t.prediction, t.tested_at AS testedAt`

export function shortTestStore({ db, date }: NounContext): ShortTestStore {
  const byId = db.prepare<[number | bigint], Row>(
    `SELECT ${COLUMNS} FROM short_tests t WHERE t.id = ?`,
  )
  const ofType = db.prepare<[number, number], Row>(
    `SELECT ${COLUMNS} FROM short_tests t JOIN motors m ON m.id = t.motor_id
     WHERE m.type_id = ? ORDER BY t.id DESC LIMIT ?`,
  )
  const insert = db.prepare(
    `INSERT INTO short_tests (motor_id, limit_set_id, fit_id, operator, prediction, tested_at)
     VALUES (?, ?, ?, ?, ?, ?)`,
  )
  const motorExists = db.prepare<[number], number>('SELECT 1 FROM motors WHERE id = ?').pluck()
  const fromRow = (row: Row): ShortTestRecord => ({
    ...row,
    prediction: JSON.parse(row.prediction),
  })
  return {
    add: ({ motorId, limitSetId, fitId, operator, prediction }) => {
      if (!motorExists.get(motorId)) throw unknownId('motor', motorId)
      const { lastInsertRowid } = insert.run(
        motorId,
        limitSetId,
        fitId,
        checkedName('operator', operator),
        JSON.stringify(prediction),
        date(),
      )
      return fromRow(byId.get(lastInsertRowid)!)
    },
    ofType: (typeId, limit) => ofType.all(typeId, limit).map(fromRow),
  }
}
