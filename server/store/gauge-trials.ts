import { InputFault } from '../../src/base/faults.ts'
import { checkedName } from './names.ts'
import type { NounContext } from './noun-context.ts'

/** One measurement of a motor by an operator in a gauge study: an identification. */
export interface GaugeTrial {
  readonly id: number
  readonly study: string
  readonly motorId: number
  readonly operator: string
  readonly fitId: number
  readonly recordedAt: string
}

export interface GaugeTrialStore {
  /** Refused where the identification is a trial already, of this or another study. */
  add(trial: Omit<GaugeTrial, 'id' | 'recordedAt'>): GaugeTrial
  /** In the order in which they were recorded. */
  ofStudy(study: string): GaugeTrial[]
  studies(): string[]
}

const COLUMNS =
  'id, study, motor_id AS motorId, operator, fit_id AS fitId, recorded_at AS recordedAt'

export function gaugeTrialStore({ db, date }: NounContext): GaugeTrialStore {
  const byId = db.prepare<[number | bigint], GaugeTrial>(
    `SELECT ${COLUMNS} FROM gauge_trials WHERE id = ?`,
  )
  const byFit = db.prepare<[number], GaugeTrial>(
    `SELECT ${COLUMNS} FROM gauge_trials WHERE fit_id = ?`,
  )
  const ofStudy = db.prepare<[string], GaugeTrial>(
    `SELECT ${COLUMNS} FROM gauge_trials WHERE study = ? ORDER BY id`,
  )
  const studies = db
    .prepare<[], string>('SELECT DISTINCT study FROM gauge_trials ORDER BY study')
    .pluck()
  const insert = db.prepare(
    'INSERT INTO gauge_trials (study, motor_id, operator, fit_id, recorded_at) VALUES (?, ?, ?, ?, ?)',
  )
  return {
    add: ({ study, motorId, operator, fitId }) => {
      const taken = byFit.get(fitId)
      if (taken) {
        throw new InputFault(
          `identification ${fitId} is a trial of '${taken.study}' already; test and identify the motor once more for every trial`,
        )
      }
      const row = insert.run(
        checkedName('study', study),
        motorId,
        checkedName('operator', operator),
        fitId,
        date(),
      )
      return byId.get(row.lastInsertRowid)!
    },
    ofStudy: study => ofStudy.all(study),
    studies: () => studies.all(),
  }
}
