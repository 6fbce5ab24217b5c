import type { Command } from 'commander'
import { textTable } from '../../src/output/text-table.ts'
import type { Motor } from '../../src/records/motor.ts'
import type { NewMotor, Store } from '../store/store.ts'
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
import { integerOption } from './parse-options.ts'

interface TagOptions extends StoreOption {
  readonly type?: string
  readonly serialNumber?: string
  readonly lot?: string
  readonly nameplate?: string
  readonly notes?: string
}

export function addMotorsCommand(program: Command, context: CommandContext): void {
  const motors = program.command('motors').description('the motors in the store')
  withResult(motors.command('list', { isDefault: true }))
    .description('list them')
    .option('--text <words>', 'only those whose name, lot, serial number or notes hold these words')
    .action((options: StoreOption & ResultOption & { text?: string }) =>
      usingStore(context, options, store => {
        const list = store.motors.list(options.text === undefined ? {} : { text: options.text })
        const rows = list.map(motor => ({ ...motor, ...standing(store, motor) }))
        printResult(context, options, { schema: 'motors/1', motors: rows }, () =>
          rows.length === 0
            ? 'no motors yet; the first import, log or sequence makes one\n'
            : motorTable(store, rows),
        )
      }),
    )
  tagOptions(
    withStore(motors.command('add <name>')).description('add a motor before its first run'),
  ).action((name: string, options: TagOptions) =>
    makingStore(context, options, store => {
      const motor = store.motors.add({ name, ...tags(store, options) })
      context.say(`motor '${motor.name}' added`)
    }),
  )
  tagOptions(withStore(motors.command('tag <name>')).description('say what specimen it is')).action(
    (name: string, options: TagOptions) =>
      usingStore(context, options, store => {
        store.motors.change(store.motors.named(name).id, tags(store, options))
        context.say(`motor '${name}' tagged`)
      }),
  )
  withStore(motors.command('rename <name> <new-name>'))
    .description('give it another name')
    .action((name: string, newName: string, options: StoreOption) =>
      usingStore(context, options, store => {
        store.motors.change(store.motors.named(name).id, { name: newName })
        context.say(`'${name}' is now '${newName}'`)
      }),
    )
  withStore(motors.command('delete <name>'))
    .description('take it and its runs out of the lists (restore brings them back)')
    .action((name: string, options: StoreOption) =>
      usingStore(context, options, store => {
        const motor = store.motors.named(name)
        store.motors.delete(motor.id)
        context.say(`motor '${name}' deleted; rotorfit motors restore ${motor.id} brings it back`)
      }),
    )
  withStore(
    motors
      .command('restore')
      .argument(
        '<number>',
        'as told when it was deleted',
        integerOption(1, Number.MAX_SAFE_INTEGER),
      ),
  )
    .description('bring a deleted motor back')
    .action((number: number, options: StoreOption) =>
      usingStore(context, options, store => {
        context.say(`motor '${store.motors.restore(number).name}' is back`)
      }),
    )
}

function tagOptions(command: Command): Command {
  return command
    .option('--type <name>', 'its design, see rotorfit types')
    .option('--serial-number <text>', 'as read on the specimen')
    .option('--lot <text>', 'delivery or production lot')
    .option('--nameplate <text>', 'nameplate as read')
    .option('--notes <text>', 'whatever should be remembered')
}

function tags(store: Store, options: TagOptions): Omit<NewMotor, 'name'> {
  const { serialNumber, lot, nameplate, notes } = options
  return {
    ...(options.type === undefined ? {} : { typeId: store.types.named(options.type).id }),
    ...(serialNumber === undefined ? {} : { serialNumber }),
    ...(lot === undefined ? {} : { lot }),
    ...(nameplate === undefined ? {} : { nameplate }),
    ...(notes === undefined ? {} : { notes }),
  }
}

function standing(
  store: Store,
  motor: Motor,
): { runs: number; lastRunAt: string | null; fittedAt: string | null } {
  const runs = store.runs.list({ motorId: motor.id })
  return {
    runs: runs.length,
    lastRunAt:
      runs
        .map(run => run.startedAt)
        .sort()
        .at(-1) ?? null,
    fittedAt: store.fits.latest(motor.id)?.createdAt ?? null,
  }
}

function motorTable(store: Store, rows: readonly (Motor & ReturnType<typeof standing>)[]): string {
  return textTable(
    [
      { title: 'motor', align: 'left' },
      { title: 'type', align: 'left' },
      { title: 'serial number', align: 'left' },
      { title: 'lot', align: 'left' },
      { title: 'runs', align: 'right' },
      { title: 'last run (UTC)', align: 'left' },
      { title: 'identified (UTC)', align: 'left' },
    ],
    rows.map(motor => [
      motor.name,
      motor.typeId === null ? '' : store.types.get(motor.typeId).name,
      motor.serialNumber,
      motor.lot,
      String(motor.runs),
      minute(motor.lastRunAt),
      minute(motor.fittedAt),
    ]),
  )
}

const minute = (iso: string | null): string =>
  iso === null ? '' : iso.slice(0, 16).replace('T', ' ')
