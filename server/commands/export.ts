import type { Command } from 'commander'
import { writeRunCsv } from '../files/csv-writer.ts'
import { type CommandContext, type StoreOption, usingStore, withStore } from './context.ts'
import { integerOption } from './parse-options.ts'

interface ExportOptions extends StoreOption {
  readonly out: string
  readonly force?: boolean
}

export function addExportCommand(program: Command, context: CommandContext): void {
  withStore(
    program
      .command('export')
      .argument('<run>', 'its number', integerOption(1, Number.MAX_SAFE_INTEGER)),
  )
    .description('write a run as CSV, in SI, with every digit; importing it gives the same run')
    .requiredOption('--out <file.csv>', 'where to')
    .option('--force', 'overwrite the file')
    .action((run: number, options: ExportOptions) =>
      usingStore(context, options, async store => {
        const record = store.runs.get(run)
        const rows = await writeRunCsv(options.out, store.runs.pieces(run), {
          force: options.force === true,
          onRows: rows =>
            context.progress(rows / Math.max(1, record.sampleCount), `${rows} rows written`),
          signal: context.interrupted,
        })
        context.say(`${rows} rows of run ${run} written to ${options.out}`)
        const { windingCelsius, ambientCelsius } = record.conditions
        const conditions = [
          windingCelsius === null ? '' : ` --temperature ${windingCelsius}`,
          ambientCelsius === null ? '' : ` --ambient ${ambientCelsius}`,
        ].join('')
        context.say(
          `to take it in again: rotorfit import ${options.out} --motor NAME --test ${record.kind}${conditions}`,
        )
      }),
    )
}
