import { InputFault } from '../../src/base/faults.ts'
import type { Motor } from '../../src/records/motor.ts'
import { changed, nameRules, unknownId } from './names.ts'
import type { NounContext } from './noun-context.ts'
import type { MotorStore } from './store.ts'

const COLUMNS = `id, name, type_id AS typeId, serial_number AS serialNumber, lot, nameplate, notes,
  created_at AS createdAt, deleted_at AS deletedAt`

export function motorStore({ db, date }: NounContext): MotorStore {
  const byId = db.prepare<[number], Motor>(`SELECT ${COLUMNS} FROM motors WHERE id = ?`)
  const byName = db.prepare<[string], Motor>(
    `SELECT ${COLUMNS} FROM motors WHERE name = ? AND deleted_at IS NULL`,
  )
  const select = db.prepare<
    [{ deleted: 0 | 1; text: string; typeId: number | null; lot: string | null }],
    Motor
  >(
    `SELECT ${COLUMNS} FROM motors
     WHERE (deleted_at IS NOT NULL) = @deleted
       AND (@typeId IS NULL OR type_id = @typeId)
       AND (@lot IS NULL OR lot = @lot)
       AND instr(fold(concat_ws(char(10), name, serial_number, lot, nameplate, notes)), fold(@text)) > 0
     ORDER BY name`,
  )
  const insert = db.prepare(
    `INSERT INTO motors (name, type_id, serial_number, lot, nameplate, notes, created_at)
     VALUES (@name, @typeId, @serialNumber, @lot, @nameplate, @notes, @createdAt)`,
  )
  const update = db.prepare(
    `UPDATE motors SET name = @name, type_id = @typeId, serial_number = @serialNumber, lot = @lot,
       nameplate = @nameplate, notes = @notes WHERE id = @id`,
  )
  const markDeleted = db.prepare('UPDATE motors SET deleted_at = ? WHERE id = ?')
  const remove = db.prepare('DELETE FROM motors WHERE id = ?')
  const hasRuns = db.prepare<[number], number>('SELECT 1 FROM runs WHERE motor_id = ?').pluck()
  const typeExists = db.prepare<[number], number>('SELECT 1 FROM types WHERE id = ?').pluck()

  const get = (id: number): Motor => {
    const found = byId.get(id)
    if (!found) throw unknownId('motor', id)
    return found
  }
  const knownType = (typeId: number | null): number | null => {
    if (typeId !== null && !typeExists.get(typeId)) throw unknownId('type', typeId)
    return typeId
  }
  const list: MotorStore['list'] = (filter = {}) =>
    select.all({
      deleted: filter.deleted ? 1 : 0,
      text: filter.text ?? '',
      typeId: filter.typeId ?? null,
      lot: filter.lot ?? null,
    })
  const names = nameRules(
    'motor',
    name => byName.get(name),
    () => list().map(motor => motor.name),
  )
  const add: MotorStore['add'] = motor => {
    const { lastInsertRowid } = insert.run({
      serialNumber: '',
      lot: '',
      nameplate: '',
      notes: '',
      ...motor,
      typeId: knownType(motor.typeId ?? null),
      name: names.free(motor.name, null),
      createdAt: date(),
    })
    return get(Number(lastInsertRowid))
  }

  return {
    get,
    find: names.find,
    list,
    add,
    named: names.named,
    ensure: name => names.find(name) ?? add({ name }),
    change: (id, changes) => {
      const next = changed<Motor>(get(id), changes)
      update.run({ ...next, name: names.free(next.name, id), typeId: knownType(next.typeId) })
      return get(id)
    },
    delete: id => {
      if (get(id).deletedAt === null) markDeleted.run(date(), id)
    },
    discard: id => {
      if (hasRuns.get(id)) throw new RangeError(`id = ${id}; must be a motor without runs`)
      remove.run(id)
    },
    restore: id => {
      const motor = get(id)
      if (motor.deletedAt === null) return motor
      if (byName.get(motor.name)) {
        throw new InputFault(
          `another motor is named '${motor.name}' by now; rename that one to bring this back`,
        )
      }
      markDeleted.run(null, id)
      return get(id)
    },
  }
}
