import { open, rename, rm } from 'node:fs/promises'
import { InputFault, StoppedFault, WorkFault } from '../../src/base/faults.ts'
import { QUANTITIES, UNIT_OF } from '../../src/records/quantity.ts'
import { BRIDGE, type Recording } from '../../src/records/recording.ts'

export interface CsvWriteOptions {
  readonly force: boolean
  readonly onRows: (rows: number) => void
  readonly signal: AbortSignal
}

const BRIDGE_WORDS: ReadonlyMap<number, string> = new Map(
  Object.entries(BRIDGE).map(([word, code]) => [code, word === 'unknown' ? '' : word]),
)

/**
 * Writes a recording as CSV in SI: RFC 4180 with LF, every number in the shortest form that reads back
 * to the same bits, gaps as empty cells. The file appears under its name only when it is whole.
 */
export async function writeRunCsv(
  file: string,
  pieces: Iterable<Recording>,
  options: CsvWriteOptions,
): Promise<number> {
  const unfinished = `${file}.part`
  // `wx` on the final name reserves it: what is there already is not overwritten.
  const reserved = await open(file, options.force ? 'a' : 'wx').catch(
    (error: NodeJS.ErrnoException) => {
      throw error.code === 'EEXIST'
        ? new InputFault(`${file} is there already; --force overwrites it`)
        : new InputFault(
            `${file} cannot be written (${error.code}); check the folder and its permissions`,
          )
    },
  )
  await reserved.close()
  let rows = 0
  try {
    const handle = await open(unfinished, 'w')
    try {
      for (const piece of pieces) {
        if (options.signal.aborted) throw new StoppedFault(`stopped; ${file} was not written`)
        await handle.write(rows === 0 ? csvHeader(piece) + csvRows(piece) : csvRows(piece))
        rows += piece.sampleCount
        options.onRows(rows)
      }
    } finally {
      await handle.close()
    }
    await rename(unfinished, file)
    return rows
  } catch (error) {
    await rm(unfinished, { force: true })
    if (!options.force) await rm(file, { force: true })
    const code = (error as NodeJS.ErrnoException).code
    if (code === 'ENOSPC') throw new WorkFault(`the disk is full; ${file} was not written`)
    throw error
  }
}

/** The header row of a recording, quantities with their units. */
export function csvHeader(piece: Recording): string {
  const cells = QUANTITIES.filter(q => piece.columns[q]).map(q => `${q} [${UNIT_OF[q]}]`)
  return `${[...(piece.timeSec ? ['time [s]'] : []), ...cells, ...(piece.bridge ? ['bridge'] : [])].join(',')}\n`
}

/** Its samples, a row each. */
export function csvRows(piece: Recording): string {
  const columns = [piece.timeSec, ...QUANTITIES.map(q => piece.columns[q])].filter(c => c != null)
  const lines: string[] = new Array(piece.sampleCount)
  for (let row = 0; row < piece.sampleCount; row++) {
    let line = ''
    for (const [i, column] of columns.entries()) {
      const value = column[row]!
      line += (i === 0 ? '' : ',') + (Number.isNaN(value) ? '' : value)
    }
    if (piece.bridge) line += `,${BRIDGE_WORDS.get(piece.bridge[row]!) ?? ''}`
    lines[row] = line
  }
  return `${lines.join('\n')}\n`
}
