import { basename } from 'node:path'
import type { Command } from 'commander'
import { InputFault } from '../../src/base/faults.ts'
import { type DriveDocument, parseDrive } from '../../src/contract/drive-document.ts'
import { withstandDocumentOf } from '../../src/drive/withstand.ts'
import { findingsText } from '../../src/output/findings-text.ts'
import { readJsonFile } from '../files/json-file.ts'
import type { Store } from '../store/store.ts'
import {
  type CommandContext,
  printResult,
  type ResultOption,
  type StoreOption,
  usingStore,
  withResult,
} from './context.ts'
import { newestHeat } from './heat-knowledge.ts'
import { latestFit } from './latest-fit.ts'

interface WithstandOptions extends StoreOption, ResultOption {
  readonly motor: string
  readonly drive: string
}

export function addWithstandCommand(program: Command, context: CommandContext): void {
  withResult(program.command('withstand'))
    .description('what a drive must withstand with an identified motor')
    .requiredOption('--motor <name>', 'the motor')
    .requiredOption(
      '--drive <file.json>',
      'the drive: supply, bridge, wiring, DC link, current limit, surroundings',
    )
    .action(async (options: WithstandOptions) => {
      const drive = parseDrive(await readJsonFile(options.drive))
      if (!drive.ok) throw new InputFault(`${basename(options.drive)}: ${drive.error}`)
      await usingStore(context, options, store => {
        const { id, document, motorId } = latestFit(context, store, options.motor)
        const windingHeatJoulePerKelvin = windingHeat(context, store, motorId, drive.value)
        const identified = { fit: id, document, windingHeatJoulePerKelvin }
        const result = withstandDocumentOf(identified, drive.value)
        printResult(context, options, result, () => findingsText(result))
      })
    })
}

/** Heat capacity of the winding from the newest heating run, where there is one and the drive file states none. */
function windingHeat(
  context: CommandContext,
  store: Store,
  motorId: number,
  drive: DriveDocument,
): number | null {
  if (drive.windingHeatJoulePerKelvin !== undefined) return null
  const ids = store.runs.list({ motorId }).map(({ id }) => id)
  const newest = newestHeat(context, store, ids, drive.ambient.highestCelsius)
  if (newest === null) return null
  const { run, found } = newest
  const told = found.ok ? found.value.numbers.windingHeat : { value: null, reason: found.error }
  context.say(
    told.value === null
      ? `heating run ${run} does not tell the winding's heat capacity: ${told.reason}`
      : `heat capacity of the winding from heating run ${run}`,
  )
  return told.value
}
