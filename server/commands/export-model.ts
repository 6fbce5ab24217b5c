import { basename, extname } from 'node:path'
import type { Command } from 'commander'
import { InputFault } from '../../src/base/faults.ts'
import { MODEL_FORMATS, type ModelFormat } from '../../src/contract/model-formats.ts'
import { modelName } from '../../src/output/model/model-notes.ts'
import { modelText } from '../../src/output/model/model-text.ts'
import { storedModel } from '../files/motor-model.ts'
import { writeNewFile } from '../files/new-file.ts'
import { chosenFit, type FitChoice, withFitChoice } from './chosen-fit.ts'
import { type CommandContext, type StoreOption, usingStore, withStore } from './context.ts'

interface Options extends FitChoice, StoreOption {
  readonly out: string
  readonly force?: boolean
}

export function addExportModelCommand(program: Command, context: CommandContext): void {
  withFitChoice(withStore(program.command('export-model')))
    .description(
      'an identified motor to simulate with: a SPICE subcircuit, a Modelica package or JSON, by the ending of the file',
    )
    .requiredOption('--out <file>', 'FILE.cir, FILE.mo or FILE.json')
    .option('--force', 'overwrite the file')
    .action(async (options: Options) => {
      const format = formatOf(options.out)
      const model = await usingStore(context, options, store =>
        storedModel(store, chosenFit(context, store, options)),
      )
      await writeNewFile(options.out, modelText(model, format), options.force ?? false)
      context.say(`written: ${options.out}`)
      const name = modelName(model.motor)
      if (format === 'mo' && basename(options.out) !== `${name}.mo`) {
        context.say(`some Modelica tools open a package only from a file of its name, ${name}.mo`)
      }
    })
}

function formatOf(file: string): ModelFormat {
  const ending = extname(file).slice(1).toLowerCase()
  const format = MODEL_FORMATS.find(one => one === ending)
  if (format) return format
  throw new InputFault(
    `--out ${file}: the ending says the format; it can be .cir (SPICE), .mo (Modelica) or .json`,
  )
}
