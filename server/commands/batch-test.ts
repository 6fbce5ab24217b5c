import type { Command } from 'commander'
import { InputFault, StoppedFault } from '../../src/base/faults.ts'
import { sampleText, shortTestPlanText } from '../../src/output/short-test-text.ts'
import type { ShortTestPart } from '../../src/procedure/plan-short-test.ts'
import type { SampleVerdict } from '../../src/quality/verdict.ts'
import type { Motor } from '../../src/records/motor.ts'
import { benchChecks, checksOfMotor } from '../quality/bench-checks.ts'
import { groundOf } from '../quality/compare-batch.ts'
import { runShortTest, type ShortTestBench } from '../quality/run-short-test.ts'
import { sampleMotor } from '../quality/sample-motor.ts'
import { planForType } from '../quality/short-test-plan.ts'
import { procedureFacts } from '../session/rig-facts.ts'
import type { SimulatedHands } from '../session/sequence-runner.ts'
import type { Store } from '../store/store.ts'
import { connectToBench } from './bench-connection.ts'
import {
  type CommandContext,
  printResult,
  type ResultOption,
  type StoreOption,
  makingStore,
  withResult,
} from './context.ts'
import { type JudgingOptions, ruleOf, withDecisionRule } from './judging-options.ts'
import { acknowledgeCautions } from './log.ts'
import { integerOption, numberOption, repeated } from './parse-options.ts'

interface TestOptions extends StoreOption, ResultOption, JudgingOptions {
  readonly port: string
  readonly batch: string
  readonly against: string
  readonly serialNumber: string[]
  readonly operator: string
  readonly check?: string
  readonly positions?: number
  readonly currentLimit?: number
  readonly ambient?: number
  readonly motorMass?: number
  readonly baud?: number
  readonly motorFile?: string
  readonly planOnly?: boolean
}

export function addBatchTestCommand(batch: Command, context: CommandContext): void {
  withDecisionRule(withResult(batch.command('test')))
    .description(
      'short tests of samples, one after the other: scan a serial number, run, verdict, next',
    )
    .requiredOption('--port <serial>', "the rig's serial port, or 'practice' for a simulated one")
    .requiredOption('--batch <name>', 'the batch that the samples join; made where there is none')
    .requiredOption('--against <type>', 'the type whose limits and reference count')
    .option(
      '--serial-number <number>',
      'of a sample; may be repeated. Without, they are read line by line from the terminal, a scanner or a pipe',
      repeated(text => text),
      [],
    )
    .option('--operator <name>', 'who tests', 'not stated')
    .option('--check <motor>', 'measure this check motor instead, as at the start of a shift')
    .option(
      '--positions <number>',
      'at which the shaft is locked; else as many as the limits ask for',
      integerOption(1, 12),
    )
    .option(
      '--current-limit <A>',
      'above which the rig opens the bridge',
      numberOption(0.001, 1000),
    )
    .option('--ambient <degC>', 'air around the motor', numberOption(-100, 200))
    .option(
      '--motor-mass <kg>',
      'of one sample: bounds the heat that its winding takes',
      numberOption(1e-4, 1000),
    )
    .option('--baud <rate>', 'of the serial port', integerOption(300, 12_000_000))
    .option('--motor-file <file.json>', 'the motor behind --port practice')
    .option('--plan-only', 'tell what the test would do and how well it would know; drive nothing')
    .action((options: TestOptions) =>
      makingStore(context, options, store => testSamples(context, options, store)),
    )
}

async function testSamples(
  context: CommandContext,
  options: TestOptions,
  store: Store,
): Promise<void> {
  const type = store.types.named(options.against)
  const limits = store.limits.current(type.id)
  if (!limits) {
    throw new InputFault(
      `type '${type.name}' has no limits yet: rotorfit limits set --type '${type.name}' …`,
    )
  }
  const ground = groundOf(store, type, limits, ruleOf(options))
  const quantities = ground.resolved.map(limit => limit.quantity)
  const now = () => new Date().toISOString()
  const connection = await connectToBench(context, options, store)
  const { session, hands } = connection
  try {
    const planned = planForType(store, ground, {
      rig: procedureFacts(session.rig, options.ambient ?? null),
      above60VoltDeclared:
        store.benches.ofRig(session.rig.serialNumber)?.declaredAbove60Volt ?? false,
      positions: options.positions ?? null,
      currentLimitAmp: options.currentLimit ?? null,
      ambientCelsius: options.ambient ?? null,
      motorMassKg: options.motorMass ?? null,
    })
    context.say(shortTestPlanText(planned.test, planned.prediction).trimEnd())
    for (const check of benchChecks(store, quantities, now())) {
      for (const warning of check.warnings) context.say(`warning: ${warning}`)
    }
    const samples: SampleVerdict[] = []
    if (!options.planOnly) {
      const steps = planned.test.parts.flatMap(part => part.plan.steps)
      const acknowledged = await acknowledgeCautions(context, session, { steps })
      const bench: ShortTestBench = {
        session,
        store,
        acknowledged,
        signal: context.interrupted,
        now: Date.now,
        placeShaft: (part, isFirst) => placeShaft(context, hands, part, isFirst),
        report: ({ fraction, text }) => context.progress(fraction, text),
      }
      const one = async (motor: Motor) => {
        const stopKey = context.onKey(() => void session.stop('stopped by a key'))
        try {
          return await runShortTest(bench, motor, planned, ground, options.operator)
        } finally {
          stopKey()
        }
      }
      if (options.check !== undefined) {
        const motor = store.motors.named(options.check)
        const { fit, verdict } = await one(motor)
        store.checkMeasurements.add({
          motorId: motor.id,
          operator: options.operator,
          fitId: fit.id,
        })
        samples.push(verdict)
        for (const check of checksOfMotor(store, motor.id, quantities, now())) {
          for (const warning of check.warnings) context.say(`warning: ${warning}`)
        }
      } else {
        const batchId = (
          store.batches.find(options.batch) ??
          store.batches.add({ name: options.batch, typeId: type.id })
        ).id
        for await (const serialNumber of serialNumbers(context, options)) {
          try {
            const { motor } = sampleMotor(store, type, serialNumber)
            store.batches.include(batchId, motor.id)
            const { verdict } = await one(motor)
            samples.push(verdict)
            context.say(sampleText(verdict).trimEnd())
          } catch (error) {
            // A wrong number does not end the shift; whatever concerns the bench does.
            if (!(error instanceof InputFault)) throw error
            context.say(`${serialNumber}: ${error.message}`)
          }
        }
      }
    }
    const document = {
      schema: 'short-test/1',
      batch: options.batch,
      type: type.name,
      drivenSec: planned.test.drivenSec,
      positions: planned.test.positions,
      prediction: planned.prediction,
      bench: benchChecks(store, quantities, now()),
      samples,
    }
    printResult(context, options, document, () => samples.map(sampleText).join('\n'))
  } finally {
    await connection.close()
  }
}

async function* serialNumbers(
  context: CommandContext,
  options: TestOptions,
): AsyncGenerator<string> {
  if (options.serialNumber.length > 0) {
    yield* options.serialNumber.map(checkedNumber)
    return
  }
  if (context.interactive) {
    for (;;) {
      const answer = (await context.ask('serial number (scan or type; empty to end): ')).trim()
      if (answer === '') return
      yield answer
    }
  }
  if (!context.inputLines) {
    throw new InputFault('no serial number: give --serial-number, or pipe them in, one a line')
  }
  for await (const line of context.inputLines()) if (line.trim() !== '') yield line.trim()
}

function checkedNumber(text: string): string {
  if (text.trim() === '')
    throw new InputFault('--serial-number is empty; give the number as it stands on the motor')
  return text.trim()
}

/** A simulated shaft is moved by the rig; a real one by the operator, who says when it is done. */
async function placeShaft(
  context: CommandContext,
  hands: SimulatedHands | null,
  { angleRad, plan }: ShortTestPart,
  isFirst: boolean,
): Promise<void> {
  if (hands) return hands.setShaft(angleRad === null ? 'free' : 'locked', angleRad)
  const act =
    plan.shaft === 'free'
      ? 'Take the locking device off; nothing may touch the shaft.'
      : isFirst
        ? 'Lock the shaft.'
        : 'Turn the shaft by about 140 degrees and lock it again.'
  if (!context.interactive) {
    throw new InputFault(
      `somebody at a terminal has to lock and free the shaft of a real motor; this is none`,
    )
  }
  const answer = await context.ask(
    `Bridge off, shaft at rest. ${act} Hands off, then Enter (or 'stop'): `,
  )
  if (context.interrupted.aborted || answer.trim().toLowerCase() === 'stop') {
    throw new StoppedFault('stopped by the operator before the next part of the test')
  }
}
