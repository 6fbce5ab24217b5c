import { open, rm } from 'node:fs/promises'
import { extname } from 'node:path'
import { type Command, InvalidArgumentError } from 'commander'
import { InputFault, WorkFault } from '../../src/base/faults.ts'
import { PAPERS, type PaperName } from '../../src/output/sheet/paper.ts'
import { SHEET_FORMATS, type SheetFormat, sheetFile } from '../files/sheet-file.ts'
import { sheetFactsOf } from '../http/answers/sheet-answer.ts'
import { type CommandContext, type StoreOption, usingStore, withStore } from './context.ts'
import { integerOption } from './parse-options.ts'

interface ReportOptions extends StoreOption {
  readonly motor: string
  readonly out: string
  readonly fit?: number
  readonly paper: PaperName
  readonly force?: boolean
}

export function addReportCommand(program: Command, context: CommandContext): void {
  withStore(program.command('report'))
    .description('the sheet of a motor as HTML, PDF, JSON or CSV, by the ending of the file')
    .requiredOption('--motor <name>', 'the motor')
    .requiredOption('--out <file>', 'FILE.html, FILE.pdf, FILE.json or FILE.csv')
    .option('--fit <number>', 'another than the newest fit', integerOption(1, 2 ** 53))
    .option('--paper <name>', 'a4 or letter', paperOption, 'a4')
    .option('--force', 'overwrite the file')
    .action(async (options: ReportOptions) => {
      const format = formatOf(options.out)
      const bytes = await usingStore(context, options, store => {
        const motor = store.motors.named(options.motor)
        const facts = sheetFactsOf(store, motor.id, options.fit, new Date().toISOString())
        return sheetFile(facts, format, options.paper)
      })
      await writeNew(options.out, bytes, options.force ?? false)
      context.say(`written: ${options.out}`)
    })
}

function paperOption(text: string): PaperName {
  const name = text.toLowerCase()
  if (name in PAPERS) return name as PaperName
  throw new InvalidArgumentError(`needs one of ${Object.keys(PAPERS).join(', ')}`)
}

function formatOf(file: string): SheetFormat {
  const ending = extname(file).slice(1).toLowerCase()
  const format = SHEET_FORMATS.find(one => one === ending)
  if (format) return format
  throw new InputFault(
    `--out ${file}: the ending says the format; it can be ${SHEET_FORMATS.map(one => `.${one}`).join(', ')}`,
  )
}

async function writeNew(file: string, bytes: Uint8Array, force: boolean): Promise<void> {
  const handle = await open(file, force ? 'w' : 'wx').catch((error: NodeJS.ErrnoException) => {
    throw error.code === 'EEXIST'
      ? new InputFault(`${file} is there already; --force overwrites it`)
      : new InputFault(
          `${file} cannot be written (${error.code}); check the folder and its permissions`,
        )
  })
  try {
    await handle.writeFile(bytes)
  } catch (error) {
    await rm(file, { force: true })
    throw new WorkFault(`${file} could not be written (${(error as NodeJS.ErrnoException).code})`)
  } finally {
    await handle.close()
  }
}
