import { mkdtempSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Command } from 'commander'
import { WorkFault } from '../../src/base/faults.ts'
import { fitText } from '../../src/output/fit-text.ts'
import { practiceTruth } from '../../src/practice-rig/practice-truth.ts'
import { PARAMETERS, type ParameterName } from '../../src/records/parameter.ts'
import type { PracticeMotor } from '../../src/records/practice-motor.ts'
import { openRecorder } from '../recorder/open-recorder.ts'
import { loadPracticeMotor } from '../rig-host/motor-file.ts'
import { type PracticeRig, startPracticeRig } from '../rig-host/start-practice-rig.ts'
import { connectBench } from '../session/connect.ts'
import { startSequence } from '../session/start-sequence.ts'
import type { StoredFit } from '../store/store.ts'
import { type CommandContext, type StoreOption, makingStore, withStore } from './context.ts'
import { attend } from './sequence.ts'
import { serveUntilInterrupted } from './serve.ts'

interface DemoOptions extends StoreOption {
  readonly once?: boolean
  readonly motorFile?: string
}

const REFERENCE_CELSIUS = 20

/** The whole job on a practice rig: log the sequence over a real serial device, identify, compare, show. */
export function addDemoCommand(program: Command, context: CommandContext): void {
  withStore(program.command('demo'))
    .description(
      'the whole job on a practice rig: log, identify, compare with the truth, show the page',
    )
    .option('--once', 'end after the table instead of serving the page')
    .option('--motor-file <file.json>', 'the motor behind the rig, see datasets/motors')
    .action(async (options: DemoOptions) => {
      const motor = await loadPracticeMotor(options.motorFile ?? null)
      // A store of its own: a demo does not belong among real motors.
      const db = options.db ?? join(mkdtempSync(join(tmpdir(), 'rotorfit-demo-')), 'demo.rotorfit')
      const fit = await logAndIdentify(context, db, motor)
      context.out(fitText(fit.document, truthOf(motor)))
      if (options.once) return
      await serveUntilInterrupted(context, {
        file: db,
        host: '127.0.0.1',
        // Whatever else is served on this machine, a demo finds its place.
        httpPort: 0,
        port: null,
        password: null,
        landing: `/motors/${fit.motorId}/parameters`,
      })
    })
}

async function logAndIdentify(
  context: CommandContext,
  db: string,
  practice: PracticeMotor,
): Promise<StoredFit> {
  return makingStore(context, { db }, async store => {
    const rig = await hostRig(context, practice)
    const recorder = await openRecorder({ file: store.file })
    try {
      const session = await connectBench({
        open: () => rig.open(),
        recorder: recorder.begin,
        signal: context.interrupted,
      })
      context.say(
        `logging '${practice.name}' of ${practice.maker} (invented): ${practice.description}`,
      )
      const runner = startSequence({
        session,
        store,
        motor: store.motors.ensure(practice.name),
        hands: rig,
        now: Date.now,
        resume: false,
        referenceTemperatureCelsius: REFERENCE_CELSIUS,
      })
      const outcome = await attend(context, runner, true)
      await session.close()
      if (!outcome.fit) throw new WorkFault(outcome.text)
      return outcome.fit
    } finally {
      await recorder.close()
      await rig.close()
    }
  })
}

async function hostRig(context: CommandContext, motor: PracticeMotor): Promise<PracticeRig> {
  const data = { motor, seed: 1, linkPath: null }
  try {
    const rig = await startPracticeRig({ ...data, via: 'pseudo-terminal' })
    context.say(`practice rig behind the serial device ${rig.path}`)
    return rig
  } catch (error) {
    context.say(
      `no pseudo-terminal here (${(error as Error).message}); the practice rig runs in-process instead`,
    )
    return startPracticeRig({ ...data, via: 'in-process' })
  }
}

function truthOf(motor: PracticeMotor): Partial<Record<ParameterName, number>> {
  const truth = practiceTruth(motor)
  return Object.fromEntries(PARAMETERS.map(name => [name, truth[name].value]))
}
