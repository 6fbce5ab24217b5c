import { Command, CommanderError } from 'commander'
import { EXIT_CODE, InputFault, StoppedFault, WorkFault } from '../../src/base/faults.ts'
import packageFacts from '../../package.json' with { type: 'json' }
import type { CommandContext } from './context.ts'
import { addBackupCommand } from './backup.ts'
import { addDemoCommand } from './demo.ts'
import { addExportCommand } from './export.ts'
import { addExportModelCommand } from './export-model.ts'
import { addFitCommand } from './fit.ts'
import { addHeatCommand } from './heat.ts'
import { addImportCommand } from './import.ts'
import { addLogCommand } from './log.ts'
import { addMotorsCommand } from './motors.ts'
import { addPredictCommand } from './predict.ts'
import { addPracticeRigCommand } from './practice-rig.ts'
import { addRecogniseCommand } from './recognise.ts'
import { addReportCommand } from './report.ts'
import { addRippleCommand } from './ripple.ts'
import { addRunsCommand } from './runs.ts'
import { addSequenceCommand } from './sequence.ts'
import { addServeCommand } from './serve.ts'
import { addLimitsCommand } from './limits.ts'
import { addBatchCommand } from './batch.ts'
import { addCalibrateCommand } from './calibrate.ts'
import { addCheckRigCommand } from './check-rig.ts'
import { addCompareCommand } from './compare.ts'
import { addGaugeStudyCommand } from './gauge-study.ts'
import { addTypesCommand } from './types.ts'
import { addWithstandCommand } from './withstand.ts'

/** In the order in which `--help` shows them: try, connect, log, identify, use, keep, judge. */
const COMMANDS = [
  addDemoCommand,
  addServeCommand,
  addPracticeRigCommand,
  addCheckRigCommand,
  addCalibrateCommand,
  addLogCommand,
  addSequenceCommand,
  addImportCommand,
  addExportCommand,
  addFitCommand,
  addRippleCommand,
  addHeatCommand,
  addRecogniseCommand,
  addPredictCommand,
  addWithstandCommand,
  addExportModelCommand,
  addReportCommand,
  addTypesCommand,
  addMotorsCommand,
  addRunsCommand,
  addBackupCommand,
  addLimitsCommand,
  addBatchCommand,
  addCompareCommand,
  addGaugeStudyCommand,
]

/** Runs one command line and returns its exit code; never throws, never prints a stack trace. */
export async function runCommandLine(
  args: readonly string[],
  context: CommandContext,
): Promise<number> {
  const program = new Command('rotorfit')
    .description('Logs bench tests of brushed DC motors and identifies their parameters.')
    .version(packageFacts.version)
    .showHelpAfterError('(--help shows what is understood)')
    .exitOverride()
    .configureOutput({
      writeOut: context.out,
      writeErr: text => context.say(text.trimEnd()),
    })
  for (const add of COMMANDS) add(program, context)
  inheritSettings(program)
  try {
    await program.parseAsync([...args], { from: 'user' })
    return EXIT_CODE.done
  } catch (error) {
    return explain(error, context)
  }
}

/** Subcommands report to the same place as the program. */
function inheritSettings(command: Command): void {
  for (const child of command.commands) {
    child.copyInheritedSettings(command)
    inheritSettings(child)
  }
}

function explain(error: unknown, context: CommandContext): number {
  if (error instanceof CommanderError) {
    // commander has said it already; help and version are no failures.
    return error.exitCode === 0 ? EXIT_CODE.done : EXIT_CODE.badInput
  }
  if (error instanceof InputFault) return fail(error.message, EXIT_CODE.badInput)
  if (error instanceof StoppedFault) return fail(error.message, EXIT_CODE.stopped)
  if (error instanceof WorkFault) return fail(error.message, EXIT_CODE.failed)
  if (context.env.ROTORFIT_TRACE) context.say(String((error as Error)?.stack ?? error))
  return fail(
    `internal error: ${(error as Error)?.message ?? String(error)} (set ROTORFIT_TRACE=1 to see where)`,
    EXIT_CODE.failed,
  )

  function fail(message: string, code: number): number {
    context.say(`rotorfit: ${message}`)
    return code
  }
}
