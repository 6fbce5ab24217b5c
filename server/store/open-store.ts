import { existsSync } from 'node:fs'
import { dirname } from 'node:path'
import { InputFault } from '../../src/base/faults.ts'
import { backup } from './backup.ts'
import { batchStore } from './batches.ts'
import { benchStore } from './benches.ts'
import { calibrationStore } from './calibrations.ts'
import { checkMeasurementStore } from './check-measurements.ts'
import { chunkTable } from './chunks.ts'
import { fitStore } from './fits.ts'
import { gaugeTrialStore } from './gauge-trials.ts'
import { handEntryStore } from './hand-entries.ts'
import { limitStore } from './limits.ts'
import { migrate } from './migrate.ts'
import { MIGRATIONS } from './migrations/migrations.ts'
import { motorStore } from './motors.ts'
import type { NounContext } from './noun-context.ts'
import { openRuns } from './open-runs.ts'
import { recoverOrphans } from './recover.ts'
import { diaryTable } from './run-diary.ts'
import { runRows } from './run-rows.ts'
import { runStore } from './runs.ts'
import { sequenceStore } from './sequences.ts'
import { shortTestStore } from './short-tests.ts'
import { type Database, openDatabase } from './sqlite.ts'
import { asFault, translated, translating } from './sqlite-faults.ts'
import type { Store, StoreOptions } from './store.ts'
import { typeStore } from './types.ts'

/** How long a call waits for another writer unless told otherwise. */
const PATIENT_MS = 5000

/**
 * Opens the store, makes it where there is none, brings it up to date, and closes the runs of loggers
 * that died. Refuses with an `InputFault` a file that is not a store or is newer than this program.
 */
export function openStore(file: string, options: StoreOptions): Store {
  const db = openFile(file, options)
  try {
    return translated(file, () => assemble(db, file, options))
  } catch (error) {
    db.close()
    throw asFault(error, file)
  }
}

function openFile(file: string, options: StoreOptions): Database {
  const folder = dirname(file)
  if (!existsSync(folder)) {
    throw new InputFault(`${file}: there is no folder ${folder}; make it or choose another file`)
  }
  if (options.readOnly && !existsSync(file)) {
    throw new InputFault(`${file}: there is no such file; choose another with --db`)
  }
  return translated(file, () =>
    openDatabase(file, {
      readonly: options.readOnly ?? false,
      timeout: options.busyMs ?? PATIENT_MS,
    }),
  )
}

function assemble(db: Database, file: string, options: StoreOptions): Store {
  prepare(db, options)
  const context: NounContext = {
    db,
    nowMs: options.now,
    date: () => new Date(options.now()).toISOString(),
  }
  const diary = diaryTable(db)
  const tables = {
    diary,
    rows: runRows(context, diary),
    chunks: chunkTable(db),
    open: openRuns(db),
  }
  const interrupted = db.readonly ? [] : recoverOrphans(context, tables)
  const motors = motorStore(context)
  const calibrations = calibrationStore(context)
  const runs = runStore(context, tables, calibrations, motors)
  return {
    file,
    readOnly: db.readonly,
    interrupted,
    types: translating(file, typeStore(context)),
    motors: translating(file, motors),
    benches: translating(file, benchStore(context)),
    calibrations: translating(file, calibrations),
    runs: {
      ...translating(file, runs),
      begin: run =>
        translating(
          file,
          translated(file, () => runs.begin(run)),
        ),
    },
    fits: translating(file, fitStore(context)),
    limits: translating(file, limitStore(context)),
    batches: translating(file, batchStore(context)),
    handEntries: translating(file, handEntryStore(context)),
    gaugeTrials: translating(file, gaugeTrialStore(context)),
    shortTests: translating(file, shortTestStore(context)),
    checkMeasurements: translating(file, checkMeasurementStore(context)),
    sequences: translating(file, sequenceStore(context)),
    backup: async (to, { force = false } = {}) => {
      try {
        await backup(db, to, force)
      } catch (error) {
        throw asFault(error, to)
      }
    },
    close: () => {
      db.close()
    },
  }
}

function prepare(db: Database, options: StoreOptions): void {
  db.pragma('foreign_keys = ON')
  // Upper and lower case of every script, and composed letters, are alike in a search.
  db.function('fold', { deterministic: true }, (text: unknown) =>
    String(text ?? '')
      .normalize('NFC')
      .toLocaleLowerCase('en'),
  )
  migrate(db, MIGRATIONS)
  if (db.readonly) return
  db.pragma('journal_mode = WAL')
  // A commit survives the death of the process at once, a loss of power from the next checkpoint on.
  db.pragma('synchronous = NORMAL')
  if (options.checkpoints === 'elsewhere') db.pragma('wal_autocheckpoint = 0')
}
