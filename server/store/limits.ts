import { InputFault } from '../../src/base/faults.ts'
import type { Limit, LimitSet } from '../../src/records/limits.ts'
import { unknownId } from './names.ts'
import type { NounContext } from './noun-context.ts'
import type { LimitStore } from './store.ts'

interface LimitSetRow {
  id: number
  type_id: number
  limits: string
  reference_temperature_celsius: number
  author: string
  reason: string
  set_at: string
}

function check(limits: readonly Limit[]): void {
  for (const { quantity, lower, upper } of limits) {
    if (lower === null && upper === null) {
      throw new InputFault(`limit of ${quantity}: give a lower value, an upper value or both`)
    }
    if (lower !== null && upper !== null && !(lower < upper)) {
      throw new InputFault(
        `limit of ${quantity}: lower ${lower} is not below upper ${upper}; exchange them`,
      )
    }
  }
  const names = limits.map(limit => limit.quantity)
  const twice = names.find((name, i) => names.indexOf(name) < i)
  if (twice) throw new InputFault(`limit of ${twice} is given twice; give one`)
}

export function limitStore({ db, date }: NounContext): LimitStore {
  const ofType = db.prepare<[number], LimitSetRow>(
    'SELECT * FROM limit_sets WHERE type_id = ? ORDER BY id DESC',
  )
  const newest = db.prepare<[number], LimitSetRow>(
    'SELECT * FROM limit_sets WHERE type_id = ? ORDER BY id DESC LIMIT 1',
  )
  const references = db
    .prepare<[number], number>(
      'SELECT motor_id FROM limit_references WHERE limit_set_id = ? ORDER BY motor_id',
    )
    .pluck()
  const insert = db.prepare(
    `INSERT INTO limit_sets (type_id, limits, reference_temperature_celsius, author, reason, set_at)
     VALUES (?, ?, ?, ?, ?, ?)`,
  )
  const refer = db.prepare('INSERT INTO limit_references (limit_set_id, motor_id) VALUES (?, ?)')
  const typeExists = db.prepare<[number], number>('SELECT 1 FROM types WHERE id = ?').pluck()
  const motorExists = db.prepare<[number], number>('SELECT 1 FROM motors WHERE id = ?').pluck()

  const fromRow = (row: LimitSetRow): LimitSet => ({
    id: row.id,
    typeId: row.type_id,
    limits: JSON.parse(row.limits),
    referenceTemperatureCelsius: row.reference_temperature_celsius,
    referenceMotorIds: references.all(row.id),
    author: row.author,
    reason: row.reason,
    setAt: row.set_at,
  })
  const current = (typeId: number): LimitSet | null => {
    const found = newest.get(typeId)
    return found ? fromRow(found) : null
  }
  return {
    current,
    history: typeId => ofType.all(typeId).map(fromRow),
    add: db.transaction((set: Omit<LimitSet, 'id' | 'setAt'>): LimitSet => {
      check(set.limits)
      if (set.author.trim() === '' || set.reason.trim() === '') {
        throw new InputFault('limits need an author and a reason; give both')
      }
      if (!typeExists.get(set.typeId)) throw unknownId('type', set.typeId)
      const { lastInsertRowid } = insert.run(
        set.typeId,
        JSON.stringify(set.limits),
        set.referenceTemperatureCelsius,
        set.author.trim(),
        set.reason.trim(),
        date(),
      )
      for (const motorId of new Set(set.referenceMotorIds)) {
        if (!motorExists.get(motorId)) throw unknownId('motor', motorId)
        refer.run(lastInsertRowid, motorId)
      }
      return current(set.typeId)!
    }),
  }
}
