import Sqlite from 'better-sqlite3'

export type { Database, Statement } from 'better-sqlite3'

/** The package is CommonJS: its error class hangs on the constructor. */
export const SqliteError = Sqlite.SqliteError
export const openDatabase = (file: string, options: Sqlite.Options) => new Sqlite(file, options)
