import { readFile, stat } from 'node:fs/promises'
import { basename } from 'node:path'
import { InputFault } from '../../src/base/faults.ts'

/** Files that describe a motor or a drive are small; anything larger is a mistake. */
const LARGEST_BYTES = 1024 ** 2

/** Reads a JSON file that a user wrote; the fault names the file and what would be right. */
export async function readJsonFile(file: string): Promise<unknown> {
  const name = basename(file)
  let text: string
  try {
    const { size } = await stat(file)
    if (size > LARGEST_BYTES)
      throw new InputFault(
        `${name}: ${size} bytes are no description; needs a JSON file of a few kB`,
      )
    text = await readFile(file, 'utf8')
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException
    if (code === 'ENOENT') throw new InputFault(`${name}: no such file`)
    if (code !== undefined)
      throw new InputFault(`${name}: cannot be read (${code}); needs a JSON file`)
    throw error
  }
  try {
    return JSON.parse(text.replace(/^\ufeff/, ''))
  } catch (error) {
    throw new InputFault(`${name}: is not JSON: ${(error as Error).message.split('\n')[0]}`)
  }
}
