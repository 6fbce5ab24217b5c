import { existsSync } from 'node:fs'
import type { Database } from 'better-sqlite3'
import { InputFault, WorkFault } from '../../src/base/faults.ts'
import type { Migration } from './migrations/migrations.ts'

/** "ROTF" in ASCII, in the header of every store: another program's SQLite file is told apart by it. */
export const APPLICATION_ID = 0x524f5446

/**
 * Brings the store to the newest version, each step in a transaction of its own; before the first step
 * on a store that holds something, a copy is laid beside it. Refuses what is not a store of ours, or is
 * one that a newer program wrote, without touching it.
 */
export function migrate(db: Database, migrations: readonly Migration[]): void {
  const version = checkIdentity(db, migrations)
  const missing = migrations.filter(migration => migration.version > version)
  if (missing.length === 0) return
  if (db.readonly) {
    throw new WorkFault(
      `${db.name} is of store version ${version} and has to be brought to ${migrations.at(-1)?.version}; it cannot be written, so open it once where it can`,
    )
  }
  if (version > 0) copyBeside(db, version)
  // Lets purged runs give their space back; takes effect only before the first table.
  else db.pragma('auto_vacuum = INCREMENTAL')
  for (const migration of missing) apply(db, migration)
}

function checkIdentity(db: Database, migrations: readonly Migration[]): number {
  const applicationId = db.pragma('application_id', { simple: true })
  const version = Number(db.pragma('user_version', { simple: true }))
  const tables = db.prepare('SELECT count(*) FROM sqlite_schema').pluck().get()
  if (applicationId !== APPLICATION_ID && (applicationId !== 0 || version !== 0 || tables !== 0)) {
    throw new InputFault(
      `${db.name} is a database of another program, not a rotorfit store; choose another file with --db`,
    )
  }
  const newest = migrations.at(-1)?.version ?? 0
  if (version > newest) {
    throw new InputFault(
      `${db.name} was written by a newer rotorfit (store version ${version}, this one knows up to ${newest}); update rotorfit or choose another file with --db`,
    )
  }
  return version
}

function apply(db: Database, migration: Migration): void {
  db.transaction(() => {
    // Another process may have been faster.
    if (Number(db.pragma('user_version', { simple: true })) >= migration.version) return
    db.exec(migration.sql)
    db.pragma(`application_id = ${APPLICATION_ID}`)
    db.pragma(`user_version = ${migration.version}`)
  }).immediate()
}

function copyBeside(db: Database, version: number): void {
  let copy = `${db.name}.before-version-${version + 1}`
  for (let n = 2; existsSync(copy); n++) copy = `${db.name}.before-version-${version + 1}-${n}`
  db.prepare('VACUUM INTO ?').run(copy)
}
