import { InputFault } from '../../src/base/faults.ts'
import type { Bench } from '../../src/records/bench.ts'
import { changed, nameRules, unknownId } from './names.ts'
import type { NounContext } from './noun-context.ts'
import type { BenchStore, NewBench } from './store.ts'

interface BenchRow {
  id: number
  name: string
  rig_serial_number: string | null
  supply_volt: number | null
  supply_limit_amp: number | null
  declared_above_60_volt: 0 | 1
  sensors: string
  fixture: string | null
  notes: string
  created_at: string
}

const fromRow = (row: BenchRow): Bench => ({
  id: row.id,
  name: row.name,
  rigSerialNumber: row.rig_serial_number,
  supplyVolt: row.supply_volt,
  supplyLimitAmp: row.supply_limit_amp,
  declaredAbove60Volt: row.declared_above_60_volt === 1,
  sensors: JSON.parse(row.sensors),
  fixture: row.fixture === null ? null : JSON.parse(row.fixture),
  notes: row.notes,
  createdAt: row.created_at,
})

const toRow = (bench: NewBench): Omit<BenchRow, 'id' | 'created_at'> => ({
  name: bench.name,
  rig_serial_number: bench.rigSerialNumber,
  supply_volt: bench.supplyVolt,
  supply_limit_amp: bench.supplyLimitAmp,
  declared_above_60_volt: bench.declaredAbove60Volt ? 1 : 0,
  sensors: JSON.stringify(bench.sensors),
  fixture: bench.fixture === null ? null : JSON.stringify(bench.fixture),
  notes: bench.notes,
})

export function benchStore({ db, date }: NounContext): BenchStore {
  const byId = db.prepare<[number], BenchRow>('SELECT * FROM benches WHERE id = ?')
  const byName = db.prepare<[string], BenchRow>('SELECT * FROM benches WHERE name = ?')
  const byRig = db.prepare<[string], BenchRow>('SELECT * FROM benches WHERE rig_serial_number = ?')
  const all = db.prepare<[], BenchRow>('SELECT * FROM benches ORDER BY name')
  const insert = db.prepare(
    `INSERT INTO benches (name, rig_serial_number, supply_volt, supply_limit_amp,
       declared_above_60_volt, sensors, fixture, notes, created_at)
     VALUES (@name, @rig_serial_number, @supply_volt, @supply_limit_amp,
       @declared_above_60_volt, @sensors, @fixture, @notes, @created_at)`,
  )
  const update = db.prepare(
    `UPDATE benches SET name = @name, rig_serial_number = @rig_serial_number,
       supply_volt = @supply_volt, supply_limit_amp = @supply_limit_amp,
       declared_above_60_volt = @declared_above_60_volt, sensors = @sensors, fixture = @fixture,
       notes = @notes WHERE id = @id`,
  )

  const get = (id: number): Bench => {
    const found = byId.get(id)
    if (!found) throw unknownId('bench', id)
    return fromRow(found)
  }
  const names = nameRules(
    'bench',
    name => {
      const found = byName.get(name)
      return found && fromRow(found)
    },
    () => all.all().map(bench => bench.name),
  )
  const checked = (bench: NewBench, ownId: number | null): NewBench => {
    const name = names.free(bench.name, ownId)
    const rig = bench.rigSerialNumber
    const owner = rig === null ? undefined : byRig.get(rig)
    if (owner && owner.id !== ownId) {
      throw new InputFault(
        `the rig with serial number '${rig}' belongs to bench '${owner.name}' already; change that one`,
      )
    }
    return { ...bench, name }
  }

  return {
    get,
    find: names.find,
    named: names.named,
    ofRig: serialNumber => {
      const found = byRig.get(serialNumber)
      return found ? fromRow(found) : null
    },
    list: () => all.all().map(fromRow),
    add: bench => {
      const row = { ...toRow(checked(bench, null)), created_at: date() }
      return get(Number(insert.run(row).lastInsertRowid))
    },
    change: (id, changes) => {
      update.run({ ...toRow(checked(changed<NewBench>(get(id), changes), id)), id })
      return get(id)
    },
  }
}
