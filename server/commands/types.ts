import type { Command } from 'commander'
import { textTable } from '../../src/output/text-table.ts'
import {
  type CommandContext,
  makingStore,
  printResult,
  type ResultOption,
  type StoreOption,
  usingStore,
  withResult,
  withStore,
} from './context.ts'

export function addTypesCommand(program: Command, context: CommandContext): void {
  const types = program.command('types').description('the designs of motor in the store')
  withResult(types.command('list', { isDefault: true }))
    .description('list them')
    .action((options: StoreOption & ResultOption) =>
      usingStore(context, options, store => {
        const list = store.types.list()
        printResult(context, options, { schema: 'types/1', types: list }, () =>
          list.length === 0
            ? 'no types yet; add one with: rotorfit types add NAME\n'
            : textTable(
                [
                  { title: 'type', align: 'left' },
                  { title: 'maker', align: 'left' },
                  { title: 'motors', align: 'right' },
                  { title: 'notes', align: 'left' },
                ],
                list.map(type => [
                  type.name,
                  type.maker,
                  String(store.motors.list({ typeId: type.id }).length),
                  type.notes,
                ]),
              ),
        )
      }),
    )
  withStore(types.command('add <name>'))
    .description('add a design')
    .option('--maker <name>', 'who makes it', '')
    .option('--notes <text>', 'whatever should be remembered', '')
    .action((name: string, options: StoreOption & { maker: string; notes: string }) =>
      makingStore(context, options, store => {
        const type = store.types.add({ name, maker: options.maker, notes: options.notes })
        context.say(`type '${type.name}' added`)
      }),
    )
}
