import { openDatabase } from './sqlite.ts'

/**
 * Brings what was committed to the medium, from a thread of its own: nobody who writes to or reads from
 * the store waits for that. `checkpoint` is to be called about once a second while something is written.
 */
export function keepCheckpointed(file: string): { checkpoint(): void } {
  const db = openDatabase(file, { fileMustExist: true, timeout: 0 })
  db.pragma('synchronous = NORMAL')
  return {
    checkpoint: () => {
      try {
        db.pragma('wal_checkpoint(PASSIVE)')
      } catch {
        // Taken or full: the next one does it, and whoever writes is told by its own commit.
      }
    },
  }
}
