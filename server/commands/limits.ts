import type { Command } from 'commander'
import { quantityText } from '../../src/base/quantity-text.ts'
import { textTable } from '../../src/output/text-table.ts'
import type { Limit, LimitSet } from '../../src/records/limits.ts'
import { readLimit } from '../quality/limit-text.ts'
import { chosenFit } from './chosen-fit.ts'
import {
  type CommandContext,
  printResult,
  type ResultOption,
  type StoreOption,
  usingStore,
  withResult,
} from './context.ts'
import { numberOption, repeated } from './parse-options.ts'

interface ShowOptions extends StoreOption, ResultOption {
  readonly type: string
  readonly history?: boolean
}

interface SetOptions extends StoreOption, ResultOption {
  readonly type: string
  readonly reference: string[]
  readonly limit: string[]
  readonly author: string
  readonly reason: string
  readonly referenceTemperature: number
}

const text = (value: string) => value

export function addLimitsCommand(program: Command, context: CommandContext): void {
  const limits = program
    .command('limits')
    .description('what production samples of a type are judged by')
  withResult(limits.command('show', { isDefault: true }))
    .description('the limits in force')
    .requiredOption('--type <name>', 'the type')
    .option('--history', 'earlier ones too: they are never changed')
    .action((options: ShowOptions) =>
      usingStore(context, options, store => {
        const type = store.types.named(options.type)
        const sets = store.limits.history(type.id).slice(0, options.history ? undefined : 1)
        printResult(context, options, { schema: 'limits/1', type: type.name, sets }, () =>
          sets.length === 0
            ? `'${type.name}' has no limits yet: rotorfit limits set --help\n`
            : sets
                .map(set =>
                  setText(
                    set,
                    set.referenceMotorIds.map(id => store.motors.get(id).name),
                  ),
                )
                .join('\n'),
        )
      }),
    )
  withResult(limits.command('set'))
    .description('set new limits from now on; the old ones stay in the history')
    .requiredOption('--type <name>', 'the type')
    .option(
      '--reference <motor>',
      'an approved motor that has been identified; repeat for a pool',
      repeated(text),
      [],
    )
    .requiredOption(
      '--limit <name=lower..upper>',
      "e.g. 'resistance=-5%..+5%'; may be repeated",
      repeated(text),
      [],
    )
    .requiredOption('--author <name>', 'who sets them')
    .requiredOption('--reason <text>', 'why')
    .option('--reference-temperature <degC>', 'at which they hold', numberOption(-50, 200), 20)
    .action((options: SetOptions) =>
      usingStore(context, options, store => {
        const fits = options.reference.map(
          name => chosenFit(context, store, { motor: name }).document,
        )
        const set = store.limits.add({
          typeId: store.types.named(options.type).id,
          limits: options.limit.map(each => readLimit(each, fits)),
          referenceTemperatureCelsius: options.referenceTemperature,
          referenceMotorIds: options.reference.map(name => store.motors.named(name).id),
          author: options.author,
          reason: options.reason,
        })
        printResult(context, options, { schema: 'limits/1', type: options.type, sets: [set] }, () =>
          setText(set, options.reference),
        )
      }),
    )
}

function setText(set: LimitSet, reference: readonly string[]): string {
  const head = `set ${set.setAt.slice(0, 16).replace('T', ' ')} UTC by ${set.author}: ${set.reason}\nat ${set.referenceTemperatureCelsius} °C, reference: ${reference.join(', ') || 'none'}\n`
  const table = textTable(
    [
      { title: 'quantity', align: 'left' },
      { title: 'lower', align: 'right' },
      { title: 'upper', align: 'right' },
    ],
    set.limits.map(limit => [
      limit.quantity,
      endText(limit, limit.lower),
      endText(limit, limit.upper),
    ]),
  )
  return `${head}${table}`
}

function endText(limit: Limit, value: number | null): string {
  if (value === null) return ''
  if (limit.basis === 'absolute') return quantityText(value, limit.unit).text
  const sign = value > 0 ? '+' : ''
  return `${sign}${value}${limit.basis === 'percent' ? ' %' : ' sigma'}`
}
