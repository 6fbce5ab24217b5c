import { open, rm } from 'node:fs/promises'
import { InputFault, WorkFault } from '../../src/base/faults.ts'

/** Writes a file that was not there before, or replaces it where `force` says so; leaves no half of it. */
export async function writeNewFile(
  file: string,
  content: Uint8Array | string,
  force: boolean,
): Promise<void> {
  const handle = await open(file, force ? 'w' : 'wx').catch((error: NodeJS.ErrnoException) => {
    throw error.code === 'EEXIST'
      ? new InputFault(`${file} is there already; --force overwrites it`)
      : new InputFault(
          `${file} cannot be written (${error.code}); check the folder and its permissions`,
        )
  })
  try {
    await handle.writeFile(content)
  } catch (error) {
    await rm(file, { force: true })
    throw new WorkFault(`${file} could not be written (${(error as NodeJS.ErrnoException).code})`)
  } finally {
    await handle.close()
  }
}
