import { unknownId } from './names.ts'
import type { NounContext } from './noun-context.ts'
import type { FitStore, StoredFit } from './store.ts'

interface FitRow {
  id: number
  motor_id: number
  run_ids: string
  document: string
  settings: string
  inputs_hash: string
  created_at: string
}

const fromRow = (row: FitRow): StoredFit => ({
  id: row.id,
  motorId: row.motor_id,
  runIds: JSON.parse(row.run_ids),
  document: JSON.parse(row.document),
  settings: JSON.parse(row.settings),
  inputsHash: row.inputs_hash,
  createdAt: row.created_at,
})

export function fitStore({ db, date }: NounContext): FitStore {
  const byId = db.prepare<[number], FitRow>('SELECT * FROM fits WHERE id = ?')
  const ofMotor = db.prepare<[number], FitRow>(
    'SELECT * FROM fits WHERE motor_id = ? ORDER BY id DESC',
  )
  const latestOf = db.prepare<[number], FitRow>(
    'SELECT * FROM fits WHERE motor_id = ? ORDER BY id DESC LIMIT 1',
  )
  const insert = db.prepare(
    `INSERT INTO fits (motor_id, run_ids, document, settings, inputs_hash, created_at)
     VALUES (?, ?, ?, ?, ?, ?)`,
  )
  const motorExists = db.prepare<[number], number>('SELECT 1 FROM motors WHERE id = ?').pluck()

  const get = (id: number): StoredFit => {
    const found = byId.get(id)
    if (!found) throw unknownId('fit', id)
    return fromRow(found)
  }
  return {
    get,
    add: fit => {
      if (!motorExists.get(fit.motorId)) throw unknownId('motor', fit.motorId)
      const { lastInsertRowid } = insert.run(
        fit.motorId,
        JSON.stringify(fit.runIds),
        JSON.stringify(fit.document),
        JSON.stringify(fit.settings),
        fit.inputsHash,
        date(),
      )
      return get(Number(lastInsertRowid))
    },
    latest: motorId => {
      const found = latestOf.get(motorId)
      return found ? fromRow(found) : null
    },
    list: motorId => ofMotor.all(motorId).map(fromRow),
  }
}
