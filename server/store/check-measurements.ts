import { InputFault } from '../../src/base/faults.ts'
import { checkedName, unknownId } from './names.ts'
import type { NounContext } from './noun-context.ts'

/** One measurement of a check motor: the same motor on the same bench, at the start of a shift. */
export interface CheckMeasurement {
  readonly id: number
  readonly motorId: number
  readonly operator: string
  readonly fitId: number
  /** ISO 8601, UTC. */
  readonly measuredAt: string
}

export interface CheckMeasurementStore {
  /** Refused where the identification was counted already. */
  add(measurement: Omit<CheckMeasurement, 'id' | 'measuredAt'>): CheckMeasurement
  /** In the order in which they were made. */
  ofMotor(motorId: number): CheckMeasurement[]
  /** Motors that serve as check motors. */
  motors(): number[]
}

const COLUMNS = 'id, motor_id AS motorId, operator, fit_id AS fitId, measured_at AS measuredAt'

export function checkMeasurementStore({ db, date }: NounContext): CheckMeasurementStore {
  const byFit = db.prepare<[number], CheckMeasurement>(
    `SELECT ${COLUMNS} FROM check_measurements WHERE fit_id = ?`,
  )
  const ofMotor = db.prepare<[number], CheckMeasurement>(
    `SELECT ${COLUMNS} FROM check_measurements WHERE motor_id = ? ORDER BY id`,
  )
  const motors = db
    .prepare<[], number>('SELECT DISTINCT motor_id FROM check_measurements ORDER BY motor_id')
    .pluck()
  const insert = db.prepare(
    'INSERT INTO check_measurements (motor_id, operator, fit_id, measured_at) VALUES (?, ?, ?, ?)',
  )
  const motorExists = db.prepare<[number], number>('SELECT 1 FROM motors WHERE id = ?').pluck()
  return {
    add: ({ motorId, operator, fitId }) => {
      if (!motorExists.get(motorId)) throw unknownId('motor', motorId)
      if (byFit.get(fitId)) {
        throw new InputFault(
          `identification ${fitId} was counted already; test and identify the check motor once more`,
        )
      }
      insert.run(motorId, checkedName('operator', operator), fitId, date())
      return byFit.get(fitId)!
    },
    ofMotor: motorId => ofMotor.all(motorId),
    motors: () => motors.all(),
  }
}
