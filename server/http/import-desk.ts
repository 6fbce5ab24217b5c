import { randomUUID } from 'node:crypto'
import { createWriteStream } from 'node:fs'
import { mkdtemp, rm, stat } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { Transform, type Readable } from 'node:stream'
import { pipeline } from 'node:stream/promises'
import { InputFault } from '../../src/base/faults.ts'
import { printable } from '../../src/base/printable.ts'
import type { ImportAccept, ImportChanges, ImportPreview } from '../../src/contract/http-runs.ts'
import { CSV_QUANTITIES, type CsvQuantity } from '../../src/contract/csv-columns.ts'
import type { ImportInput, ImportOutput } from '../jobs/import-job.ts'
import type { ReportJob } from '../jobs/job.ts'
import { readHead } from './import-head.ts'
import { inPageWords } from './page-words.ts'

/** Recordings that were handed in and not yet stored: each is looked at before anything of it is kept. */
export interface ImportDesk {
  receive(name: string, body: Readable): Promise<ImportPreview>
  look(id: string, changes: ImportChanges): Promise<ImportPreview>
  /** The import as a job would run it: the file is let go once it is stored. */
  accept(id: string, target: ImportAccept): { input: ImportInput; done: () => Promise<void> }
  drop(id: string): Promise<void>
  close(): Promise<void>
}

export interface ImportDeskOptions {
  readonly storeFile: string
  readonly maxBytes: number
  /** Reads a file through without storing it. */
  readonly tryOut: (input: ImportInput, report: ReportJob) => Promise<ImportOutput>
}

interface Waiting {
  readonly file: string
  readonly name: string
  readonly bytes: number
  choices: ImportChanges
}

const KEPT_FILES = 6
/** Larger files are not read through for a preview; storing them checks every row all the same. */
const TRY_OUT_BYTES = 24 * 1024 ** 2

export function createImportDesk(options: ImportDeskOptions): ImportDesk {
  const waiting = new Map<string, Waiting>()
  let folder: Promise<string> | null = null

  const find = (id: string): Waiting => {
    const found = waiting.get(id)
    if (!found) throw new InputFault('this recording waits no longer; drop the file again')
    return found
  }
  const drop = async (id: string) => {
    const file = waiting.get(id)?.file
    waiting.delete(id)
    if (file) await rm(file, { force: true })
  }
  const inputOf = (one: Waiting, into: ImportInput['into']): ImportInput => ({
    file: one.file,
    source: one.name,
    choices: one.choices.columns ?? null,
    invert: (one.choices.invert ?? []).map(asQuantity),
    ...(one.choices.decimal && { decimal: one.choices.decimal }),
    ...(one.choices.intervalSec && { intervalSec: one.choices.intervalSec }),
    into,
  })

  async function look(id: string): Promise<ImportPreview> {
    const one = find(id)
    const head = await readHead(one.file)
    const preview = { id, name: one.name, bytes: one.bytes, ...head }
    const headOnly = one.bytes > TRY_OUT_BYTES && head.hasShape && !one.choices.columns
    try {
      const found = await options.tryOut({ ...inputOf(one, null), headOnly }, () => {})
      return withoutShape({
        ...preview,
        columns: found.columns.map(column => ({
          quantity: column.quantity,
          index: placeOf(column, head.header, one.choices.columns ?? null),
          header: column.header,
          unit: column.unit,
          inverted: column.inverted,
          gaps: column.gaps,
          lowest: column.lowest,
          highest: column.highest,
        })),
        ignored: [...found.ignored],
        rowCount: headOnly ? null : found.rows,
        trouble: null,
        remarks: found.warnings.map(inPageWords),
      })
    } catch (error) {
      if (!(error instanceof InputFault)) throw error
      const trouble = error.message.replaceAll(one.file.split(/[\\/]/).at(-1)!, one.name)
      return withoutShape({
        ...preview,
        columns: [],
        ignored: [],
        rowCount: null,
        trouble: inPageWords(trouble),
        remarks: [],
      })
    }
  }

  return {
    async receive(name, body) {
      folder ??= mkdtemp(join(tmpdir(), 'rotorfit-import-'))
      const id = randomUUID()
      const file = join(await folder, id)
      await pipeline(
        body,
        atMost(options.maxBytes),
        createWriteStream(file, { mode: 0o600 }),
      ).catch(async error => {
        await rm(file, { force: true })
        throw error
      })
      const { size } = await stat(file)
      waiting.set(id, {
        file,
        name: printable(name.split(/[\\/]/).at(-1)!),
        bytes: size,
        choices: {},
      })
      for (const old of [...waiting.keys()].slice(0, -KEPT_FILES)) await drop(old)
      return look(id)
    },
    look(id, changes) {
      const one = find(id)
      one.choices = { ...one.choices, ...changes }
      return look(id)
    },
    accept(id, target) {
      const one = find(id)
      one.choices = { ...one.choices, ...target }
      const winding = target.temperatureCelsius ?? null
      const input = inputOf(one, {
        storeFile: options.storeFile,
        motor: target.motor,
        kind: target.kind,
        conditions: {
          ambientCelsius: null,
          windingCelsius: winding,
          supplyVolt: null,
          supplyLimitAmp: null,
          switchingHz: null,
          shaftAngleRad: null,
          fixture: null,
          addedInertiaKgM2: 0,
          loadTorqueNm: 0,
        },
      })
      return { input, done: () => drop(id) }
    },
    drop,
    async close() {
      waiting.clear()
      if (folder) await rm(await folder, { recursive: true, force: true })
    },
  }
}

/** Where a column stands: as chosen by place, else by its header. */
function placeOf(
  column: { quantity: CsvQuantity; header: string },
  header: readonly string[],
  choices: ImportChanges['columns'],
): number {
  const chosen = choices?.find(choice => choice.quantity === column.quantity)?.column
  const byPlace = /^#(\d+)$/.exec(chosen ?? '')
  return byPlace ? Number(byPlace[1]) - 1 : header.findIndex(cell => cell.trim() === column.header)
}

function withoutShape(preview: ImportPreview & { hasShape: boolean }): ImportPreview {
  const { hasShape: _, ...rest } = preview
  return rest
}

function asQuantity(text: string): CsvQuantity {
  const found = CSV_QUANTITIES.find(quantity => quantity === text)
  if (!found) throw new InputFault(`'${text}' is no quantity; known: ${CSV_QUANTITIES.join(', ')}`)
  return found
}

function atMost(bytes: number): Transform {
  let seen = 0
  return new Transform({
    transform(piece: Buffer, _encoding, next) {
      seen += piece.length
      if (seen > bytes) {
        next(
          new InputFault(
            `the file is larger than ${Math.round(bytes / 1024 ** 2)} MiB; compress it with gzip, or import it on the command line`,
          ),
        )
      } else next(null, piece)
    },
  })
}
