import { InputFault } from '../../src/base/faults.ts'
import type { Calibration, CalibrationMethod } from '../../src/records/calibration.ts'
import { unknownId } from './names.ts'
import type { NounContext } from './noun-context.ts'
import type { CalibrationStore, NewCalibration } from './store.ts'

interface CalibrationRow {
  id: number
  bench_id: number
  channel: string
  gain: number
  zero: number
  gain_uncertainty: number
  zero_uncertainty: number
  method: CalibrationMethod
  reference_instruments: string
  points: string
  author: string
  notes: string
  performed_at: string
  valid_until: string | null
}

const fromRow = (row: CalibrationRow): Calibration => ({
  id: row.id,
  benchId: row.bench_id,
  channel: row.channel,
  gain: row.gain,
  zero: row.zero,
  gainUncertainty: row.gain_uncertainty,
  zeroUncertainty: row.zero_uncertainty,
  method: row.method,
  references: JSON.parse(row.reference_instruments),
  points: JSON.parse(row.points),
  author: row.author,
  notes: row.notes,
  performedAt: row.performed_at,
  validUntil: row.valid_until,
})

function check(calibration: NewCalibration): void {
  const { gain, zero, gainUncertainty, zeroUncertainty, channel } = calibration
  if (!Number.isFinite(gain) || gain === 0) {
    throw new InputFault(`channel ${channel}: gain ${gain}; must be a number other than 0`)
  }
  if (!Number.isFinite(zero)) {
    throw new InputFault(`channel ${channel}: zero ${zero}; must be a number`)
  }
  if (!(gainUncertainty >= 0) || !(zeroUncertainty >= 0)) {
    throw new InputFault(
      `channel ${channel}: uncertainties ${gainUncertainty} and ${zeroUncertainty}; must be 0 or more`,
    )
  }
}

export function calibrationStore({ db }: NounContext): CalibrationStore {
  const byId = db.prepare<[number], CalibrationRow>('SELECT * FROM calibrations WHERE id = ?')
  const insert = db.prepare(
    `INSERT INTO calibrations (bench_id, channel, gain, zero, gain_uncertainty, zero_uncertainty,
       method, reference_instruments, points, author, notes, performed_at, valid_until)
     VALUES (@benchId, @channel, @gain, @zero, @gainUncertainty, @zeroUncertainty,
       @method, @references, @points, @author, @notes, @performedAt, @validUntil)`,
  )
  const latest = db.prepare<[{ benchId: number; at: string }], CalibrationRow>(
    `SELECT * FROM calibrations AS c WHERE bench_id = @benchId AND performed_at <= @at
       AND NOT EXISTS (SELECT 1 FROM calibrations AS later
         WHERE later.bench_id = c.bench_id AND later.channel = c.channel
           AND later.performed_at <= @at
           AND (later.performed_at, later.id) > (c.performed_at, c.id))
     ORDER BY channel`,
  )
  const past = db.prepare<[{ benchId: number; channel: string | null }], CalibrationRow>(
    `SELECT * FROM calibrations
     WHERE bench_id = @benchId AND (@channel IS NULL OR channel = @channel)
     ORDER BY performed_at DESC, id DESC`,
  )
  const benchExists = db.prepare<[number], number>('SELECT 1 FROM benches WHERE id = ?').pluck()

  const get = (id: number): Calibration => {
    const found = byId.get(id)
    if (!found) throw unknownId('calibration', id)
    return fromRow(found)
  }
  return {
    get,
    add: calibration => {
      check(calibration)
      if (!benchExists.get(calibration.benchId)) throw unknownId('bench', calibration.benchId)
      const { lastInsertRowid } = insert.run({
        ...calibration,
        references: JSON.stringify(calibration.references),
        points: JSON.stringify(calibration.points),
      })
      return get(Number(lastInsertRowid))
    },
    inForce: (benchId, at) => latest.all({ benchId, at }).map(fromRow),
    history: (benchId, channel) => past.all({ benchId, channel: channel ?? null }).map(fromRow),
  }
}
