import { SqliteError } from './sqlite.ts'
import { InputFault, WorkFault } from '../../src/base/faults.ts'

/** What SQLite reports, by the beginning of its code, in words that say what to do. */
const MEANING: readonly (readonly [code: string, text: string])[] = [
  ['SQLITE_FULL', 'the disk is full; free some space'],
  [
    'SQLITE_BUSY',
    'another program is writing to it and did not finish in time; close that or try again',
  ],
  ['SQLITE_LOCKED', 'another program has locked it; close that or try again'],
  [
    'SQLITE_READONLY',
    'it may only be read; give yourself write permission to the file and its folder',
  ],
  ['SQLITE_PERM', 'permission was denied'],
  [
    'SQLITE_CANTOPEN',
    'it cannot be opened; check that its folder exists and that you may write there (reading needs that too)',
  ],
  ['SQLITE_CORRUPT', 'it is damaged; go back to a backup'],
  ['SQLITE_IOERR', 'the disk reports an error; check the drive and its cable'],
]

/** Turns SQLite's errors into ours; anything else passes unchanged. */
export function asFault(error: unknown, file: string): unknown {
  if (!(error instanceof SqliteError)) return error
  if (error.code.startsWith('SQLITE_NOTADB')) {
    return new InputFault(
      `${file} is not a rotorfit store (no SQLite file); choose another file with --db`,
      { cause: error },
    )
  }
  const meaning = MEANING.find(([code]) => error.code.startsWith(code))?.[1]
  return new WorkFault(`${file}: ${meaning ?? `${error.message} (${error.code})`}`, {
    cause: error,
  })
}

export function translated<T>(file: string, work: () => T): T {
  try {
    return work()
  } catch (error) {
    throw asFault(error, file)
  }
}

/** The same object, with every method's SQLite errors turned into ours; promises likewise. */
export function translating<T extends object>(file: string, noun: T): T {
  const wrap = (method: unknown) =>
    typeof method !== 'function'
      ? method
      : (...args: unknown[]) => {
          const result: unknown = translated(file, () => method.apply(noun, args))
          return result instanceof Promise
            ? result.catch((error: unknown) => {
                throw asFault(error, file)
              })
            : result
        }
  return Object.fromEntries(Object.entries(noun).map(([key, value]) => [key, wrap(value)])) as T
}
