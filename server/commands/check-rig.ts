import type { Command } from 'commander'
import { checkRig } from '../check-rig/check-rig.ts'
import { verdictReport } from '../check-rig/report.ts'
import { connectBench } from '../session/connect.ts'
import { askCautions } from './ask-cautions.ts'
import { openWay, type PortChoice } from './bench-connection.ts'
import { type CommandContext, printResult, type ResultOption } from './context.ts'
import { integerOption } from './parse-options.ts'

interface CheckRigOptions extends PortChoice, ResultOption {
  readonly drive?: boolean
}

export function addCheckRigCommand(program: Command, context: CommandContext): void {
  program
    .command('check-rig')
    .description('does this rig follow firmware-protocol.md? A verdict a clause')
    .requiredOption('--port <serial>', "the rig's serial port, or 'practice'")
    .option('--drive', 'arm it and drive gentle pulses too; without it nothing is armed')
    .option('--baud <rate>', 'of the serial port', integerOption(300, 12_000_000))
    .option('--motor-file <file.json>', 'the motor behind --port practice')
    .option('--json', 'print the result as one JSON document')
    .action(async (options: CheckRigOptions) => {
      const way = await openWay(options)
      try {
        if (options.drive && !(await isSimulated(way.open, context))) await askCautions(context)
        const link = await way.open()
        try {
          const verdicts = await checkRig(link, {
            drive: options.drive === true,
            onProgress: text => context.progress(0, text),
          })
          printResult(
            context,
            options,
            { schema: 'check-rig/1', verdicts },
            () => `${verdictReport(verdicts)}\n`,
          )
        } finally {
          await link.close()
        }
      } finally {
        await way.close()
      }
    })
}

/** Asked over a connection of its own, before the checks speak to the rig in odd ways. */
async function isSimulated(
  open: Awaited<ReturnType<typeof openWay>>['open'],
  context: CommandContext,
): Promise<boolean> {
  const session = await connectBench({ open, recorder: null, signal: context.interrupted })
  const { simulated } = session.rig
  await session.close()
  return simulated
}
