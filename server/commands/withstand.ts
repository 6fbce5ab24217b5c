import { basename } from 'node:path'
import type { Command } from 'commander'
import { InputFault } from '../../src/base/faults.ts'
import { parseDrive } from '../../src/contract/drive-document.ts'
import { withstandDocumentOf } from '../../src/drive/withstand.ts'
import { findingsText } from '../../src/output/findings-text.ts'
import { readJsonFile } from '../files/json-file.ts'
import { toldWindingHeat } from '../thermal/newest-heat.ts'
import { chosenFit, type FitChoice, withFitChoice } from './chosen-fit.ts'
import {
  type CommandContext,
  printResult,
  type ResultOption,
  type StoreOption,
  usingStore,
  withResult,
} from './context.ts'

interface WithstandOptions extends FitChoice, StoreOption, ResultOption {
  readonly drive: string
}

export function addWithstandCommand(program: Command, context: CommandContext): void {
  withFitChoice(withResult(program.command('withstand')))
    .description('what a drive must withstand with an identified motor')
    .requiredOption(
      '--drive <file.json>',
      'the drive: supply, bridge, wiring, DC link, current limit, surroundings',
    )
    .action(async (options: WithstandOptions) => {
      const drive = parseDrive(await readJsonFile(options.drive))
      if (!drive.ok) throw new InputFault(`${basename(options.drive)}: ${drive.error}`)
      await usingStore(context, options, store => {
        const { id, document, motorId } = chosenFit(context, store, options)
        // Not looked for where the drive's file states it.
        const isStated = drive.value.windingHeatJoulePerKelvin !== undefined
        const told = isStated ? null : toldWindingHeat(store, new Map(), motorId)
        if (told?.note) context.say(told.note)
        const identified = { fit: id, document, windingHeat: told?.heat ?? null }
        const result = withstandDocumentOf(identified, drive.value)
        printResult(context, options, result, () => findingsText(result))
      })
    })
}
