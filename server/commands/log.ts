import type { Command } from 'commander'
import { InputFault, StoppedFault, WorkFault } from '../../src/base/faults.ts'
import { HIGHEST_HOTTEST_CELSIUS, SAFE_HOTTEST_CELSIUS } from '../../src/procedure/plan-heating.ts'
import { planOperatorTest } from '../../src/procedure/plan-operator.ts'
import { planText } from '../../src/procedure/plan-text.ts'
import { planDurationSec, type TestPlan } from '../../src/procedure/test-plan.ts'
import type { BenchSession, CautionsToken, RunOutcome } from '../session/bench-session.ts'
import { procedureFacts } from '../session/rig-facts.ts'
import type { SimulatedHands } from '../session/sequence-runner.ts'
import { askCautions } from './ask-cautions.ts'
import { connectToBench } from './bench-connection.ts'
import {
  type CommandContext,
  printResult,
  type StoreOption,
  makingStore,
  withResult,
} from './context.ts'
import { logPlainRig, type PlainLogOptions } from './log-plain.ts'
import { integerOption, kindOption, numberOption } from './parse-options.ts'

interface LogOptions extends StoreOption, PlainLogOptions {
  readonly motorFile?: string
  readonly hottest?: number
  readonly plain?: boolean
}

export function addLogCommand(program: Command, context: CommandContext): void {
  withResult(program.command('log'))
    .description('log one test of a motor on a rig')
    .requiredOption('--port <serial>', "the rig's serial port, or 'practice' for a simulated one")
    .requiredOption('--motor <name>', 'the motor; made where there is none of that name')
    .requiredOption('--test <kind>', 'the kind of test', kindOption)
    .option('--voltage <V>', 'to drive with; its sign is the direction', numberOption(-1000, 1000))
    .option(
      '--current-limit <A>',
      'above which the rig opens the bridge',
      numberOption(0.001, 1000),
    )
    .option('--duration <s>', 'of the test', numberOption(0.01, 14_400))
    .option('--baud <rate>', 'of the serial port', integerOption(300, 12_000_000))
    .option('--ambient <degC>', 'air around the motor', numberOption(-100, 200))
    .option(
      '--hottest <degC>',
      `with --test heating, the hottest coil that is allowed (else ${SAFE_HOTTEST_CELSIUS})`,
      numberOption(0, HIGHEST_HOTTEST_CELSIUS),
    )
    .option('--motor-file <file.json>', 'the motor behind --port practice')
    .option('--plain', 'the rig only prints rows of numbers and cannot be driven')
    .option('--columns <map>', "with --plain, what they are: 'time=#1:s,current=#2:mV/50'")
    .action((options: LogOptions) =>
      makingStore(context, options, async store => {
        if (options.plain) {
          await logPlainRig(context, options, store)
          return
        }
        const bench = await connectToBench(context, options, store)
        try {
          const { session, hands } = bench
          const plan = planFor(
            session,
            options,
            store.benches.ofRig(session.rig.serialNumber)?.declaredAbove60Volt ?? false,
          )
          context.say(planText(plan))
          const acknowledged = await acknowledgeCautions(context, session, plan)
          await placeShaft(plan, hands)
          const motor = store.motors.ensure(options.motor)
          const outcome = await runWithStopKey(context, session, plan, motor, acknowledged)
          finish(context, options, outcome)
        } finally {
          await bench.close()
        }
      }),
    )
}

function planFor(
  session: BenchSession,
  options: LogOptions,
  above60VoltDeclared: boolean,
): TestPlan {
  const plan = planOperatorTest(
    {
      kind: options.test,
      voltageVolt: options.voltage ?? null,
      currentLimitAmp: options.currentLimit ?? null,
      durationSec: options.duration ?? null,
      hottestCelsius: options.hottest ?? null,
      ambientCelsius: options.ambient ?? null,
      above60VoltDeclared,
    },
    procedureFacts(session.rig, options.ambient ?? null),
  )
  if (!plan.ok) throw new InputFault(plan.error)
  return plan.value
}

/**
 * Nothing drives a real motor before somebody at a terminal has acknowledged the cautions. Null where none
 * are needed: a simulated rig, or a test that leaves the bridge off.
 */
export async function acknowledgeCautions(
  context: CommandContext,
  session: BenchSession,
  plan: Pick<TestPlan, 'steps'>,
): Promise<CautionsToken | null> {
  const isDriven = plan.steps.some(step => step.bridge !== 'coast')
  if (!isDriven || session.rig.simulated) return null
  await askCautions(context)
  return session.acknowledgeCautions()
}

/** A simulated shaft is clamped as the test needs it; a real one is the operator's. */
async function placeShaft(plan: TestPlan, hands: SimulatedHands | null): Promise<void> {
  if (hands && plan.shaft !== 'any') await hands.setShaft(plan.shaft, null)
}

async function runWithStopKey(
  context: CommandContext,
  session: BenchSession,
  plan: TestPlan,
  motor: { id: number; name: string },
  acknowledged: CautionsToken | null,
): Promise<RunOutcome> {
  const total = planDurationSec(plan)
  const unlisten = session.listen(event => {
    if (event.type === 'envelope' && event.runId !== null) {
      context.progress(
        Math.min(0.999, event.toSec / total),
        `${event.toSec.toFixed(1)} s of ${total.toFixed(1)} s`,
      )
    }
  })
  const unkey = context.onKey(() => void session.stop('stopped by a key'))
  if (context.interactive) context.say('any key stops the motor')
  const onInterrupt = () => void session.stop('stopped by a signal')
  context.interrupted.addEventListener('abort', onInterrupt, { once: true })
  try {
    return await session.run({ plan, motor, acknowledged, signal: context.interrupted })
  } finally {
    context.interrupted.removeEventListener('abort', onInterrupt)
    unkey()
    unlisten()
  }
}

function finish(context: CommandContext, options: LogOptions, outcome: RunOutcome): void {
  const { runId, ending, text, counters } = outcome
  const kept = `run ${runId} is kept: ${counters.samples} samples, ${counters.samplesLost} lost, ${counters.linesRejected} lines rejected`
  if (ending === 'stopped' || ending === 'tripped') throw new StoppedFault(`${text}; ${kept}`)
  if (ending === 'link-lost') throw new WorkFault(`${text}; ${kept}`)
  printResult(
    context,
    options,
    { schema: 'log/1', run: runId, motor: options.motor, ending, text, counters },
    () => `${kept}\n`,
  )
}
