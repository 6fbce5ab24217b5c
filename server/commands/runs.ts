import type { Command } from 'commander'
import { readingText } from '../../src/base/quantity-text.ts'
import { textTable } from '../../src/output/text-table.ts'
import type { RunRecord } from '../store/run-record.ts'
import {
  type CommandContext,
  printResult,
  type ResultOption,
  type StoreOption,
  usingStore,
  withResult,
  withStore,
} from './context.ts'
import { integerOption } from './parse-options.ts'

const runNumber = integerOption(1, Number.MAX_SAFE_INTEGER)

export function addRunsCommand(program: Command, context: CommandContext): void {
  const runs = program.command('runs').description('the runs in the store')
  withResult(runs.command('list', { isDefault: true }))
    .description('list them')
    .option('--motor <name>', 'only those of this motor')
    .option('--text <words>', 'only those whose title, motor or notes hold these words')
    .action((options: StoreOption & ResultOption & { motor?: string; text?: string }) =>
      usingStore(context, options, store => {
        const list = store.runs.list({
          ...(options.motor === undefined ? {} : { motorId: store.motors.named(options.motor).id }),
          ...(options.text === undefined ? {} : { text: options.text }),
        })
        printResult(context, options, { schema: 'runs/1', runs: list }, () =>
          list.length === 0 ? 'no runs yet\n' : runTable(list),
        )
      }),
    )
  withStore(runs.command('delete').argument('<run>', 'its number', runNumber))
    .description('take a run out of the lists (restore brings it back)')
    .action((run: number, options: StoreOption) =>
      usingStore(context, options, store => {
        store.runs.delete(run)
        context.say(`run ${run} deleted; rotorfit runs restore ${run} brings it back`)
      }),
    )
  withStore(runs.command('restore').argument('<run>', 'its number', runNumber))
    .description('bring a deleted run back')
    .action((run: number, options: StoreOption) =>
      usingStore(context, options, store => {
        store.runs.restore(run)
        context.say(`run ${run} is back`)
      }),
    )
}

function runTable(runs: readonly RunRecord[]): string {
  return textTable(
    [
      { title: 'run', align: 'right' },
      { title: 'motor', align: 'left' },
      { title: 'test', align: 'left' },
      { title: 'started (UTC)', align: 'left' },
      { title: 'samples', align: 'right' },
      { title: 'length', align: 'right' },
      { title: 'lost', align: 'right' },
      { title: 'ended', align: 'left' },
      { title: 'channels', align: 'left' },
    ],
    runs.map(run => [
      String(run.id),
      run.motorName,
      run.kind,
      run.startedAt.slice(0, 19).replace('T', ' '),
      String(run.sampleCount),
      run.durationSec === null ? '' : readingText(run.durationSec, 's', 3).text,
      String(run.losses.reduce((sum, loss) => sum + loss.samples, 0)),
      run.ending,
      run.quantities.join(', '),
    ]),
  )
}
