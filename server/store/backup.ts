import { existsSync, renameSync, rmSync } from 'node:fs'
import { dirname, resolve } from 'node:path'
import { InputFault } from '../../src/base/faults.ts'
import type { Database } from './sqlite.ts'

/** Copies the store while it is in use. The copy appears under its name only when it is whole. */
export async function backup(db: Database, given: string, force: boolean): Promise<void> {
  const file = resolve(given)
  if (file === resolve(db.name)) {
    throw new InputFault(`${file} is the store itself; choose another file for the backup`)
  }
  if (!existsSync(dirname(file))) {
    throw new InputFault(`${file}: there is no folder ${dirname(file)}; make it or choose another`)
  }
  if (existsSync(file) && !force) {
    throw new InputFault(`${file} exists already; choose another name, or --force to replace it`)
  }
  const unfinished = `${file}.unfinished-${process.pid}`
  try {
    // Another connection's commit makes the copy start anew; growing steps let it end all the same.
    let pages = 1024
    await db.backup(unfinished, {
      progress: () => {
        pages *= 2
        return pages
      },
    })
    renameSync(unfinished, file)
  } finally {
    rmSync(unfinished, { force: true })
  }
}
