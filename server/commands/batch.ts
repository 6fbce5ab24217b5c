import type { Command } from 'commander'
import { textTable } from '../../src/output/text-table.ts'
import {
  type CommandContext,
  printResult,
  type ResultOption,
  type StoreOption,
  usingStore,
  withResult,
  withStore,
} from './context.ts'
import { addBatchTestCommand } from './batch-test.ts'
import { numberOption } from './parse-options.ts'

interface EnterOptions extends StoreOption {
  readonly motor: string
  readonly quantity: string
  readonly unit: string
  readonly value: number
  readonly uncertainty?: number
  readonly author: string
}

export function addBatchCommand(program: Command, context: CommandContext): void {
  const batch = program
    .command('batch')
    .description('motors that are judged together: a delivery, a lot')
  addBatchTestCommand(batch, context)
  withResult(batch.command('list', { isDefault: true }))
    .description('list them')
    .action((options: StoreOption & ResultOption) =>
      usingStore(context, options, store => {
        const batches = store.batches.list().map(each => ({
          ...each,
          motors: each.motorIds.map(id => store.motors.get(id).name),
        }))
        printResult(context, options, { schema: 'batches/1', batches }, () =>
          batches.length === 0
            ? 'no batches yet; make one with: rotorfit batch add NAME MOTOR …\n'
            : textTable(
                [
                  { title: 'batch', align: 'left' },
                  { title: 'motors', align: 'right' },
                  { title: 'which', align: 'left' },
                ],
                batches.map(each => [
                  each.name,
                  String(each.motors.length),
                  each.motors.join(', '),
                ]),
              ),
        )
      }),
    )
  withStore(batch.command('add <name> <motors...>'))
    .description('put motors into a batch; it is made where there is none')
    .action((name: string, motors: string[], options: StoreOption) =>
      usingStore(context, options, store => {
        const found = motors.map(motor => store.motors.named(motor).id)
        const id = (store.batches.find(name) ?? store.batches.add({ name })).id
        for (const motor of found) store.batches.include(id, motor)
        context.say(`batch '${name}' has ${store.batches.get(id).motorIds.length} motors`)
      }),
    )
  withStore(batch.command('remove <name> <motors...>'))
    .description('take motors out of a batch')
    .action((name: string, motors: string[], options: StoreOption) =>
      usingStore(context, options, store => {
        const { id } = store.batches.named(name)
        for (const motor of motors) store.batches.exclude(id, store.motors.named(motor).id)
        context.say(`batch '${name}' has ${store.batches.get(id).motorIds.length} motors`)
      }),
    )
  withStore(batch.command('enter'))
    .description(
      'type in a number about a motor that counts in its verdict: insulation test, noise, end play',
    )
    .requiredOption('--motor <name>', 'the motor')
    .requiredOption('--quantity <name>', 'as the limits call it')
    .requiredOption('--unit <unit>', 'as the limits have it')
    .requiredOption('--value <number>', 'the reading', numberOption(-1e15, 1e15))
    .option('--uncertainty <number>', 'its standard uncertainty', numberOption(0, 1e15))
    .requiredOption('--author <name>', 'who read it')
    .action((options: EnterOptions) =>
      usingStore(context, options, store => {
        const entry = store.handEntries.add({
          motorId: store.motors.named(options.motor).id,
          quantity: options.quantity,
          unit: options.unit,
          value: options.value,
          standardUncertainty: options.uncertainty ?? null,
          author: options.author,
        })
        context.say(`${entry.quantity} of '${options.motor}': ${entry.value} ${entry.unit}`)
      }),
    )
}
