import packageFacts from '../../package.json' with { type: 'json' }
import { extname } from 'node:path'
import { type Command, InvalidArgumentError } from 'commander'
import { InputFault } from '../../src/base/faults.ts'
import { PAPERS, type PaperName } from '../../src/output/sheet/paper.ts'
import { SHEET_FORMATS, type SheetFormat, sheetFile } from '../files/sheet-file.ts'
import { batchFile } from '../files/batch-file.ts'
import { writeNewFile } from '../files/new-file.ts'
import { compareBatch } from '../quality/compare-batch.ts'
import type { Store } from '../store/store.ts'
import { sheetFactsOf } from '../http/answers/sheet-answer.ts'
import { type CommandContext, type StoreOption, usingStore, withStore } from './context.ts'
import {
  type JudgingOptions,
  ruleOf,
  type SubgroupOption,
  withDecisionRule,
  withSubgroup,
} from './judging-options.ts'
import { integerOption } from './parse-options.ts'

interface ReportOptions extends StoreOption, JudgingOptions, SubgroupOption {
  readonly motor?: string
  readonly batch?: string
  readonly against?: string
  readonly with?: string
  readonly out: string
  readonly fit?: number
  readonly paper: PaperName
  readonly force?: boolean
}

export function addReportCommand(program: Command, context: CommandContext): void {
  const report = withStore(program.command('report'))
    .description(
      'the sheet of a motor, or the report on a batch, as HTML, PDF, JSON or CSV, by the ending of the file',
    )
    .option('--motor <name>', 'the motor')
    .option('--batch <name>', 'a batch instead, judged')
    .option('--against <type>', 'by the limits of this type')
    .option('--with <batch>', 'its means compared with those of another batch')
  withSubgroup(withDecisionRule(report))
    .requiredOption('--out <file>', 'FILE.html, FILE.pdf, FILE.json or FILE.csv')
    .option('--fit <number>', 'another than the newest fit', integerOption(1, 2 ** 53))
    .option('--paper <name>', 'a4 or letter', paperOption, 'a4')
    .option('--force', 'overwrite the file')
    .action(async (options: ReportOptions) => {
      const format = formatOf(options.out)
      const bytes = await usingStore(context, options, store => {
        const at = new Date().toISOString()
        if (options.batch !== undefined) return batchBytes(store, options, format, at)
        if (options.motor === undefined) {
          throw new InputFault(
            'give --motor NAME for a sheet, or --batch NAME --against TYPE for a report',
          )
        }
        const motor = store.motors.named(options.motor)
        return sheetFile(sheetFactsOf(store, motor.id, options.fit, at), format, options.paper)
      })
      await writeNewFile(options.out, bytes, options.force ?? false)
      context.say(`written: ${options.out}`)
    })
}

function batchBytes(
  store: Store,
  options: ReportOptions,
  format: SheetFormat,
  at: string,
): Promise<Uint8Array> {
  if (options.motor !== undefined) {
    throw new InputFault('--motor and --batch exclude each other; give one')
  }
  if (options.against === undefined) {
    throw new InputFault('--batch needs --against TYPE, by whose limits it is judged')
  }
  const comparison = compareBatch(store, {
    batch: options.batch!,
    type: options.against,
    rule: ruleOf(options),
    otherBatch: options.with ?? null,
    subgroupSize: options.subgroup ?? null,
    at,
  })
  return batchFile(
    { comparison, program: `rotorfit ${packageFacts.version}` },
    format,
    options.paper,
  )
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
