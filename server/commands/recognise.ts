import type { Command } from 'commander'
import { InputFault } from '../../src/base/faults.ts'
import type { HeatDocument } from '../../src/contract/heat-document.ts'
import { recogniseText } from '../../src/output/recognise-text.ts'
import { recognise } from '../../src/recognise/recognise.ts'
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
import { numberOption, runListOption } from './parse-options.ts'

interface RecogniseOptions extends StoreOption, ResultOption {
  readonly motor: string
  readonly runs?: number[]
  readonly ratedVoltage?: number
  readonly ambient: number
}

/** Temperature to which the proposed plate refers. */
const PLATE_CELSIUS = 20

export function addRecogniseCommand(program: Command, context: CommandContext): void {
  withResult(program.command('recognise'))
    .description(
      'what kind of motor it is, finding by finding with the evidence, and a proposed nameplate',
    )
    .requiredOption('--motor <name>', 'the motor')
    .option('--runs <numbers>', 'only these runs, e.g. 3,4,7', runListOption)
    .option('--rated-voltage <V>', 'for the plate, where it is known', numberOption(0.1, 1000))
    .option('--ambient <degC>', 'air around the motor in use', numberOption(-60, 150), 40)
    .action((options: RecogniseOptions) =>
      usingStore(context, options, store => {
        const motor = store.motors.named(options.motor)
        const all = store.runs.list({ motorId: motor.id }).map(({ id }) => id)
        const stranger = options.runs?.find(id => !all.includes(id))
        if (stranger !== undefined) {
          throw new InputFault(
            `run ${stranger} is none of '${motor.name}'; it has ${all.join(', ')}`,
          )
        }
        const ids = (options.runs ?? all).toSorted((a, b) => a - b)
        const found = recognise(
          motor.name,
          ids.map(id => store.runs.testRun(id)),
          heatOf(context, store, ids, options.ambient),
          { ratedVolt: options.ratedVoltage ?? null, referenceCelsius: PLATE_CELSIUS },
        )
        if (!found.ok) throw new InputFault(`'${motor.name}': ${found.error}`)
        printResult(context, options, found.value, () => recogniseText(found.value))
      }),
    )
}

/** The newest heating run, for the continuous current; said where it gives none. */
function heatOf(
  context: CommandContext,
  store: Store,
  ids: readonly number[],
  ambientCelsius: number,
): HeatDocument | null {
  const newest = newestHeat(context, store, ids, ambientCelsius)
  if (newest === null) return null
  if (newest.found.ok) return newest.found.value
  context.say(`run ${newest.run} gives no continuous current: ${newest.found.error}`)
  return null
}
