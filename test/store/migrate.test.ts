import { readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { basename, dirname } from 'node:path'
import { expect, onTestFinished, test } from 'vitest'
import { APPLICATION_ID, migrate } from '../../server/store/migrate.ts'
import { MIGRATIONS } from '../../server/store/migrations/migrations.ts'
import { openStore } from '../../server/store/open-store.ts'
import { openDatabase } from '../../server/store/sqlite.ts'
import { InputFault } from '../../src/base/faults.ts'
import { scratchFile, scratchStore } from '../support/scratch-store.ts'

const now = () => 0

function open(file: string) {
  const db = openDatabase(file, {})
  onTestFinished(() => {
    db.close()
  })
  return db
}

/** A store of today's version with one motor in it. */
function storeFile(): string {
  const file = scratchFile()
  const store = openStore(file, { now })
  store.motors.add({ name: 'kept' })
  store.close()
  return file
}

const NEXT = { version: MIGRATIONS.length + 1, sql: 'ALTER TABLE motors ADD COLUMN shoe TEXT' }

const copiesOf = (file: string) =>
  readdirSync(dirname(file)).filter(name => name.startsWith(`${basename(file)}.before`))

test('versions are numbered from 1 without a gap', () => {
  expect(MIGRATIONS.map(migration => migration.version)).toEqual(MIGRATIONS.map((_, i) => i + 1))
})

test('a new store carries its mark and its version, and needs no copy', () => {
  const file = storeFile()
  const db = open(file)
  expect(db.pragma('application_id', { simple: true })).toBe(APPLICATION_ID)
  expect(db.pragma('user_version', { simple: true })).toBe(MIGRATIONS.length)
  expect(readFileSync(file).subarray(68, 72).toString('latin1')).toBe('ROTF')
  expect(copiesOf(file)).toEqual([])
})

test('an older store is copied before it is brought up to date', () => {
  const file = storeFile()
  const db = open(file)
  migrate(db, [...MIGRATIONS, NEXT])
  expect(db.prepare('SELECT name, shoe FROM motors').all()).toEqual([{ name: 'kept', shoe: null }])
  expect(copiesOf(file)).toEqual([`${basename(file)}.before-version-${NEXT.version}`])
  const copy = scratchStore(`${file}.before-version-${NEXT.version}`)
  expect(copy.motors.named('kept').name).toBe('kept')
})

test('a step that fails leaves the store as it was, and a second try does not hurt the copy', () => {
  const file = storeFile()
  const db = open(file)
  const broken = { ...NEXT, sql: `${NEXT.sql}; INSERT INTO nowhere VALUES (1)` }
  expect(() => migrate(db, [...MIGRATIONS, broken])).toThrow('no such table: nowhere')
  expect(db.pragma('user_version', { simple: true })).toBe(MIGRATIONS.length)
  expect(db.prepare('SELECT * FROM motors').all()[0]).not.toHaveProperty('shoe')
  migrate(db, [...MIGRATIONS, NEXT])
  expect(copiesOf(file)).toHaveLength(2)
})

test('a store of a newer program is refused and left alone', () => {
  const file = storeFile()
  const db = open(file)
  migrate(db, [...MIGRATIONS, NEXT])
  db.close()
  const before = readFileSync(file)
  const attempt = () => openStore(file, { now })
  expect(attempt).toThrow(InputFault)
  expect(attempt).toThrow(
    `was written by a newer rotorfit (store version ${NEXT.version}, this one knows up to ${MIGRATIONS.length}); update rotorfit or choose another file with --db`,
  )
  expect(readFileSync(file)).toEqual(before)
})

test.each([
  ['with tables', 'CREATE TABLE songs (title TEXT)'],
  ['with a version', 'PRAGMA user_version = 3'],
  ['with a mark', 'PRAGMA application_id = 77'],
])('an SQLite file of another program, %s, is refused and left alone', (_, sql) => {
  const file = scratchFile()
  const db = open(file)
  db.exec(sql)
  db.close()
  const before = readFileSync(file)
  const attempt = () => openStore(file, { now })
  expect(attempt).toThrow(InputFault)
  expect(attempt).toThrow('is a database of another program, not a rotorfit store')
  expect(readFileSync(file)).toEqual(before)
})

test('a file that is no database is refused and left alone', () => {
  const file = scratchFile()
  writeFileSync(file, 'time [s],current [A]\n'.repeat(100))
  const attempt = () => openStore(file, { now })
  expect(attempt).toThrow(InputFault)
  expect(attempt).toThrow('is not a rotorfit store (no SQLite file); choose another file with --db')
  expect(readFileSync(file, 'utf8')).toBe('time [s],current [A]\n'.repeat(100))
})

test('an empty file becomes a store', () => {
  const file = scratchFile()
  writeFileSync(file, '')
  expect(scratchStore(file).motors.list()).toEqual([])
})

test('an older store that may only be read says that it has to be opened for writing once', () => {
  const file = storeFile()
  const db = openDatabase(file, { readonly: true })
  expect(() => migrate(db, [...MIGRATIONS, NEXT])).toThrow('it cannot be written, so open it once')
  db.close()
})
