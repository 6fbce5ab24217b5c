import type { Command } from 'commander'
import { InputFault } from '../../src/base/faults.ts'
import { recogniseText } from '../../src/output/recognise-text.ts'
import { recogniseRuns } from '../thermal/recognise-runs.ts'
import {
  type CommandContext,
  printResult,
  type ResultOption,
  type StoreOption,
  usingStore,
  withResult,
} from './context.ts'
import { numberOption, runListOption } from './parse-options.ts'

interface RecogniseOptions extends StoreOption, ResultOption {
  readonly motor: string
  readonly runs?: number[]
  readonly ratedVoltage?: number
  readonly ambient: number
}

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
        const { found, notes } = recogniseRuns(store, new Map(), motor.name, ids, {
          ratedVolt: options.ratedVoltage ?? null,
          ambientCelsius: options.ambient,
        })
        for (const note of notes) context.say(note)
        if (!found.ok) throw new InputFault(`'${motor.name}': ${found.error}`)
        printResult(context, options, found.value, () => recogniseText(found.value))
      }),
    )
}
