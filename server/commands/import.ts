import { basename } from 'node:path'
import { type Command, InvalidArgumentError } from 'commander'
import { InputFault } from '../../src/base/faults.ts'
import { readingText } from '../../src/base/quantity-text.ts'
import { CSV_QUANTITIES, type CsvQuantity, parseColumnMap } from '../../src/contract/csv-columns.ts'
import { DECIMAL_SIGNS, type DecimalSign } from '../../src/contract/csv-numbers.ts'
import { textTable } from '../../src/output/text-table.ts'
import { UNIT_OF } from '../../src/records/quantity.ts'
import { TEST_KINDS, type TestKind } from '../../src/records/test-kind.ts'
import { UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'
import type { ImportedColumn, ImportOutput } from '../jobs/import-job.ts'
import { runJob } from '../jobs/run-job.ts'
import { type CommandContext, printResult, storeFile, makingStore, withResult } from './context.ts'
import { kindOption, numberOption, repeated } from './parse-options.ts'

interface ImportOptions {
  readonly db?: string
  readonly json?: boolean
  readonly motor: string
  readonly test: TestKind
  readonly temperature?: number
  readonly ambient?: number
  readonly supplyVoltage?: number
  readonly pwmFrequency?: number
  readonly addedInertia?: number
  readonly loadTorque?: number
  readonly shaftAngle?: number
  readonly columns?: string
  readonly invert: CsvQuantity[]
  readonly decimal?: DecimalSign
  readonly interval?: number
  readonly dryRun?: boolean
}

export function addImportCommand(program: Command, context: CommandContext): void {
  withResult(program.command('import <file.csv>'))
    .description('take in a recording or a hand-read table made elsewhere')
    .requiredOption(
      '--motor <name>',
      'the motor it belongs to; made where there is none of that name',
    )
    .requiredOption('--test <kind>', `the kind of test: ${TEST_KINDS.join(', ')}`, kindOption)
    .option('--temperature <degC>', 'winding at the start', numberOption(-100, 400))
    .option('--ambient <degC>', 'air around the motor', numberOption(-100, 200))
    .option('--supply-voltage <V>', 'set voltage of the supply', numberOption(0, 1000))
    .option('--pwm-frequency <Hz>', 'the bridge switches the supply', numberOption(50, 1e6))
    .option(
      '--added-inertia <kg·m²>',
      'known inertia on the shaft in this run',
      numberOption(0, 1e3),
    )
    .option(
      '--load-torque <N·m>',
      'known constant torque on the shaft in this run',
      numberOption(-1e4, 1e4),
    )
    .option('--shaft-angle <deg>', 'where the rotor was locked', numberOption(-360, 360))
    .option('--columns <map>', "columns of a foreign file, e.g. 'time=t:ms,current=ch2:mV/50'")
    .option(
      '--invert <quantity>',
      'turn the sign of a column round; may be repeated',
      repeated(quantityOption),
      [],
    )
    .option(
      '--interval <s>',
      'time from row to row, where no column holds the time',
      numberOption(1e-9, 3600),
    )
    .option(
      '--decimal <sign>',
      'decimal sign of the file, comma or point, where it does not tell by itself',
      decimalOption,
    )
    .option('--dry-run', 'show what would be stored, and store nothing')
    .action((file: string, options: ImportOptions) => importFile(context, file, options))
}

function decimalOption(text: string): DecimalSign {
  const found = DECIMAL_SIGNS.find(sign => sign === text.trim().toLowerCase())
  if (!found) throw new InvalidArgumentError(`needs ${DECIMAL_SIGNS.join(' or ')}`)
  return found
}

function quantityOption(text: string): CsvQuantity {
  const found = CSV_QUANTITIES.find(q => q === text.trim().toLowerCase())
  if (!found || found === 'time' || found === 'bridge') {
    throw new InputFault(
      `--invert ${text}: needs one of ${CSV_QUANTITIES.filter(q => q !== 'time' && q !== 'bridge').join(', ')}`,
    )
  }
  return found
}

async function importFile(
  context: CommandContext,
  file: string,
  options: ImportOptions,
): Promise<void> {
  const map = options.columns === undefined ? null : parseColumnMap(options.columns)
  if (map && !map.ok) throw new InputFault(`--columns: ${map.error}`)
  const into = options.dryRun
    ? null
    : {
        // Opened once here, so that the path is shown and a store that cannot be used is said first.
        storeFile: await makingStore(context, options, store => store.file),
        motor: options.motor,
        kind: options.test,
        conditions: {
          ...UNKNOWN_CONDITIONS,
          windingCelsius: options.temperature ?? null,
          ambientCelsius: options.ambient ?? null,
          supplyVolt: options.supplyVoltage ?? null,
          switchingHz: options.pwmFrequency ?? null,
          shaftAngleRad:
            options.shaftAngle === undefined ? null : (options.shaftAngle * Math.PI) / 180,
          addedInertiaKgM2: options.addedInertia ?? 0,
          loadTorqueNm: options.loadTorque ?? 0,
        },
      }
  if (options.dryRun)
    context.say(`store: ${storeFile(context, options)} (dry run: nothing is written)`)
  const output = await runJob(
    'import',
    {
      file,
      source: basename(file),
      choices: map ? map.value : null,
      invert: options.invert,
      ...(options.decimal && { decimal: options.decimal }),
      ...(options.interval !== undefined && { intervalSec: options.interval }),
      into,
    },
    { onReport: r => context.progress(r.fraction, r.text), signal: context.interrupted },
  )
  for (const warning of output.warnings) context.say(`warning: ${warning}`)
  if (output.ignored.length > 0)
    context.say(`columns left out: ${output.ignored.map(c => `'${c}'`).join(', ')}`)
  const document = {
    schema: 'import/1',
    motor: options.motor,
    kind: options.test,
    dryRun: options.dryRun === true,
    ...output,
  }
  printResult(context, options, document, () => importText(options, output))
}

function importText(options: ImportOptions, output: ImportOutput): string {
  const table = textTable(
    [
      { title: 'column', align: 'left' },
      { title: 'as', align: 'left' },
      { title: 'unit', align: 'left' },
      { title: 'lowest', align: 'right' },
      { title: 'highest', align: 'right' },
      { title: 'gaps', align: 'right' },
    ],
    output.columns.map(column => [
      column.header,
      column.inverted ? `${column.quantity}, inverted` : column.quantity,
      column.unit,
      valueText(column, column.lowest),
      valueText(column, column.highest),
      String(column.gaps),
    ]),
  )
  const head =
    output.runId === null
      ? `${output.rows} rows would become a run '${options.test}' of '${options.motor}':`
      : `run ${output.runId}: ${output.rows} rows, '${options.test}' of '${options.motor}'`
  return `${head}\n\n${table}`
}

function valueText(column: ImportedColumn, value: number | null): string {
  if (column.quantity === 'bridge') return ''
  return readingText(value, column.quantity === 'time' ? 's' : UNIT_OF[column.quantity]).text
}
