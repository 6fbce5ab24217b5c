import type { Batch } from '../../src/records/batch.ts'
import { changed, nameRules, unknownId } from './names.ts'
import type { NounContext } from './noun-context.ts'
import type { BatchStore } from './store.ts'

type BatchRow = Omit<Batch, 'motorIds'>

const COLUMNS = 'id, name, type_id AS typeId, notes, created_at AS createdAt'

export function batchStore({ db, date }: NounContext): BatchStore {
  const byId = db.prepare<[number], BatchRow>(`SELECT ${COLUMNS} FROM batches WHERE id = ?`)
  const byName = db.prepare<[string], BatchRow>(`SELECT ${COLUMNS} FROM batches WHERE name = ?`)
  const all = db.prepare<[], BatchRow>(`SELECT ${COLUMNS} FROM batches ORDER BY name`)
  const members = db
    .prepare<[number], number>(
      'SELECT motor_id FROM batch_motors WHERE batch_id = ? ORDER BY motor_id',
    )
    .pluck()
  const insert = db.prepare(
    'INSERT INTO batches (name, type_id, notes, created_at) VALUES (?, ?, ?, ?)',
  )
  const update = db.prepare('UPDATE batches SET name = ?, type_id = ?, notes = ? WHERE id = ?')
  const include = db.prepare(
    'INSERT INTO batch_motors (batch_id, motor_id) VALUES (?, ?) ON CONFLICT DO NOTHING',
  )
  const exclude = db.prepare('DELETE FROM batch_motors WHERE batch_id = ? AND motor_id = ?')
  const typeExists = db.prepare<[number], number>('SELECT 1 FROM types WHERE id = ?').pluck()
  const motorExists = db.prepare<[number], number>('SELECT 1 FROM motors WHERE id = ?').pluck()

  const fromRow = (row: BatchRow): Batch => ({ ...row, motorIds: members.all(row.id) })
  const get = (id: number): Batch => {
    const found = byId.get(id)
    if (!found) throw unknownId('batch', id)
    return fromRow(found)
  }
  const names = nameRules(
    'batch',
    name => {
      const found = byName.get(name)
      return found && fromRow(found)
    },
    () => all.all().map(batch => batch.name),
  )
  const knownType = (typeId: number | null): number | null => {
    if (typeId !== null && !typeExists.get(typeId)) throw unknownId('type', typeId)
    return typeId
  }

  return {
    get,
    find: names.find,
    named: names.named,
    list: () => all.all().map(fromRow),
    add: ({ name, typeId, notes }) => {
      const row = insert.run(names.free(name, null), knownType(typeId ?? null), notes ?? '', date())
      return get(Number(row.lastInsertRowid))
    },
    change: (id, changes) => {
      const next = changed<Omit<Batch, 'id'>>(get(id), changes)
      update.run(names.free(next.name, id), knownType(next.typeId), next.notes, id)
      return get(id)
    },
    include: (id, motorId) => {
      get(id)
      if (!motorExists.get(motorId)) throw unknownId('motor', motorId)
      include.run(id, motorId)
      return get(id)
    },
    exclude: (id, motorId) => {
      exclude.run(id, motorId)
      return get(id)
    },
  }
}
