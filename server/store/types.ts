import { InputFault } from '../../src/base/faults.ts'
import type { MotorType } from '../../src/records/motor.ts'
import { changed, nameRules, unknownId } from './names.ts'
import type { NounContext } from './noun-context.ts'
import type { TypeStore } from './store.ts'

const COLUMNS = 'id, name, maker, notes, created_at AS createdAt'

export function typeStore({ db, date }: NounContext): TypeStore {
  const byId = db.prepare<[number], MotorType>(`SELECT ${COLUMNS} FROM types WHERE id = ?`)
  const byName = db.prepare<[string], MotorType>(`SELECT ${COLUMNS} FROM types WHERE name = ?`)
  const all = db.prepare<[], MotorType>(`SELECT ${COLUMNS} FROM types ORDER BY name`)
  const insert = db.prepare(
    'INSERT INTO types (name, maker, notes, created_at) VALUES (?, ?, ?, ?)',
  )
  const update = db.prepare('UPDATE types SET name = ?, maker = ?, notes = ? WHERE id = ?')
  const drop = db.prepare('DELETE FROM types WHERE id = ?')
  const users = db
    .prepare<[number, number, number], number>(
      `SELECT (SELECT count(*) FROM motors WHERE type_id = ?)
        + (SELECT count(*) FROM limit_sets WHERE type_id = ?)
        + (SELECT count(*) FROM batches WHERE type_id = ?)`,
    )
    .pluck()

  const get = (id: number): MotorType => {
    const found = byId.get(id)
    if (!found) throw unknownId('type', id)
    return found
  }
  const names = nameRules(
    'type',
    name => byName.get(name),
    () => all.all().map(type => type.name),
  )

  return {
    get,
    find: names.find,
    named: names.named,
    list: () => all.all(),
    add: type => {
      const name = names.free(type.name, null)
      const { lastInsertRowid } = insert.run(name, type.maker ?? '', type.notes ?? '', date())
      return get(Number(lastInsertRowid))
    },
    change: (id, changes) => {
      const next = changed(get(id), changes)
      update.run(names.free(next.name, id), next.maker, next.notes, id)
      return get(id)
    },
    remove: id => {
      const { name } = get(id)
      if (users.get(id, id, id) !== 0) {
        throw new InputFault(
          `type '${name}' has motors, limits or batches; only an unused type can be removed`,
        )
      }
      drop.run(id)
    },
  }
}
