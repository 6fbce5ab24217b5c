import { InputFault } from '../../src/base/faults.ts'
import type { BenchView, RunningView } from '../../src/contract/http-bench.ts'
import type { LiveEvent } from '../../src/contract/live.ts'
import type { TestPlan } from '../../src/procedure/test-plan.ts'
import type { LinkOpener } from '../link/link.ts'
import { openRecorder } from '../recorder/open-recorder.ts'
import type { Recorder } from '../recorder/recorder.ts'
import type { BenchSession, CautionsToken, SessionOptions } from '../session/bench-session.ts'
import type { SequenceRunner, SimulatedHands } from '../session/sequence-runner.ts'
import { startSequence } from '../session/start-sequence.ts'
import type { Store } from '../store/store.ts'
import { begun, planOf, rigView, runningOf, stateOf } from './bench-views.ts'
import type { BenchControl, BenchNews } from './deps.ts'
import { listPorts } from './list-ports.ts'
import { type MonitoredSession, monitoredSession } from './monitored-session.ts'
import { createShortTestDesk } from './short-test-desk.ts'

export interface BenchDeskOptions {
  /** On this thread: for the guided sequence, which keeps its place in it. */
  readonly store: Store
  /** A port named when the server was started; null where none was. */
  readonly knownPort: string | null
  readonly openWay: (choice: { port: string; baud?: number }) => Promise<Way>
  readonly connect: (options: SessionOptions) => Promise<BenchSession>
  /** Milliseconds since 1970. */
  readonly now: () => number
}

/** The way to a rig. */
export interface Way {
  readonly open: LinkOpener
  readonly hands: SimulatedHands
  close(): Promise<void>
}

interface Connected {
  readonly session: MonitoredSession
  readonly recorder: Recorder
  readonly way: Way
}

const REFERENCE_CELSIUS = 20
/** Counters change with every line; a page needs them now and then. */
const COUNTERS_MS = 1000

/** The bench that the page drives: one connection, one sequence or test at a time. */
export function createBenchDesk(options: BenchDeskOptions): BenchControl {
  const listeners = new Set<(news: BenchNews) => void>()
  let connected: Connected | null = null
  let connecting = false
  let runner: SequenceRunner | null = null
  let sequenceMotorId: number | null = null
  let sequenceFitId: number | null = null
  let acknowledged: CautionsToken | null = null
  let running: RunningView | null = null
  let port: string | null = null
  let text = 'Choose a port.'
  let recorderTrouble: string | null = null
  let countersAtMs = 0
  /** What the session was last asked to run: `run-started` names it. */
  let asked: { plan: TestPlan; motorId: number; motor: string } | null = null

  const tell = (news: BenchNews) => {
    for (const listener of listeners) listener(news)
  }
  const changed = () => tell({ type: 'changed' })
  const shortTests = createShortTestDesk({ store: options.store, now: options.now, changed })
  const need = (): Connected => {
    if (connected) return connected
    throw new InputFault('no rig is connected; choose a port first')
  }

  function onEvent(event: LiveEvent): void {
    switch (event.type) {
      case 'link':
        text = event.text
        if (event.state === 'lost') acknowledged = null
        changed()
        break
      case 'run-started':
        running = runningOf(event, asked, options.now())
        changed()
        break
      case 'run-ended':
        running = null
        text = event.text
        changed()
        break
      case 'counters':
        if (options.now() - countersAtMs > COUNTERS_MS) {
          countersAtMs = options.now()
          changed()
        }
        break
      default:
        break
    }
    tell({ type: 'live', event })
  }

  function follow(sequence: SequenceRunner): void {
    runner = sequence
    sequence.listen(news => {
      if (news.type === 'told') tell({ type: 'told', tone: news.tone, text: news.text })
      if (news.type === 'identifying') text = news.text
      changed()
    })
    sequence.done.then(outcome => {
      sequenceFitId = outcome.fit?.id ?? null
      if (outcome.outcome === 'left') {
        if (runner === sequence) runner = null
      }
      text = outcome.text
      changed()
    })
  }

  async function disconnect(): Promise<void> {
    const ending = connected
    shortTests.stop('the rig was disconnected')
    await runner?.leave()
    runner = null
    connected = null
    running = null
    acknowledged = null
    text = 'Choose a port.'
    if (ending) {
      await ending.session.close()
      await ending.recorder.close()
      await ending.way.close()
    }
    changed()
  }

  return {
    listen(listener) {
      listeners.add(listener)
      return () => listeners.delete(listener)
    },
    view() {
      const session = connected?.session ?? null
      const state = stateOf(session, connecting, running)
      return {
        state,
        port,
        text,
        rig: session && rigView(session.rig),
        counters: session && { ...session.counters },
        recorderTrouble,
        cautionsAcknowledged: acknowledged !== null,
        running,
        sequence: (runner && structuredClone(runner.view)) as BenchView['sequence'],
        sequenceMotorId,
        sequenceFitId,
        shortTest: shortTests.view,
      }
    },
    ports: () => listPorts(options.knownPort),
    async connect(wanted, baud) {
      if (connected || connecting) {
        throw new InputFault('a rig is connected already; disconnect it first')
      }
      connecting = true
      port = wanted
      text = `Opening ${wanted}.`
      changed()
      try {
        connected = await open(wanted, baud)
        connected.session.watch()
      } catch (error) {
        text = (error as Error).message
        throw error
      } finally {
        connecting = false
        changed()
      }
    },
    async reconnect() {
      const { session } = need()
      try {
        if (runner) await runner.act('resume')
        else await session.resume()
      } catch (error) {
        text = (error as Error).message
        throw error
      } finally {
        changed()
      }
    },
    disconnect,
    acknowledgeCautions() {
      acknowledged = need().session.acknowledgeCautions()
      changed()
    },
    async startTest(test) {
      const { session } = need()
      if (runner || running || shortTests.isBusy) {
        throw new InputFault('something is being tested already; stop it, or leave the sequence')
      }
      const plan = planOf(test, session, options.store)
      const motor = options.store.motors.get(test.motor)
      await begun(session, plan, motor, acknowledged)
    },
    async startSequence(motorId, resume) {
      const { session, way } = need()
      if (running || shortTests.isBusy) {
        throw new InputFault('a test is running; stop it, or wait for its end')
      }
      if (runner && runner.view.phase !== 'finished') {
        throw new InputFault('a sequence is under way already; leave it first')
      }
      const motor = options.store.motors.get(motorId)
      sequenceMotorId = motorId
      sequenceFitId = null
      follow(
        startSequence({
          session: session,
          store: options.store,
          motor,
          hands: session.rig.simulated ? way.hands : null,
          now: options.now,
          resume,
          referenceTemperatureCelsius: REFERENCE_CELSIUS,
        }),
      )
      changed()
    },
    async actOnSequence(act) {
      if (!runner) throw new InputFault('no sequence is under way; start one first')
      if (act.act === 'answer') runner.answer(act.questionId, act.value)
      else if (act.act === 'leave') {
        await runner.leave()
        runner = null
        changed()
      } else await runner.act(act.act)
    },
    planShortTest: query => shortTests.plan(connected?.session ?? null, query),
    async startShortTest(test) {
      const { session, way } = need()
      if (running) throw new InputFault('a test is running; stop it, or wait for its end')
      if (runner && runner.view.phase !== 'finished') {
        throw new InputFault('a sequence is under way; leave it first')
      }
      if (!session.rig.simulated && !acknowledged) {
        throw new InputFault('read and acknowledge the cautions at the bench first')
      }
      const hands = session.rig.simulated ? way.hands : null
      shortTests.start({ session, hands, acknowledged }, test)
    },
    actOnShortTest: act => shortTests.act(act),
    async stop(reason) {
      shortTests.stop(reason)
      if (runner && runner.view.phase !== 'finished') await runner.stop(reason)
      else await connected?.session.stop(reason)
    },
    close: disconnect,
  }

  async function open(wanted: string, baud: number | undefined): Promise<Connected> {
    const way = await options.openWay(
      baud === undefined ? { port: wanted } : { port: wanted, baud },
    )
    try {
      const recorder = await openRecorder({
        file: options.store.file,
        onHealth: health => {
          recorderTrouble = health.state === 'keeping-up' ? null : health.text
          changed()
        },
      })
      try {
        const session = await options.connect({ open: way.open, recorder: recorder.begin, onEvent })
        return {
          session: monitoredSession(session, request => {
            asked = { plan: request.plan, motorId: request.motor.id, motor: request.motor.name }
          }),
          recorder,
          way,
        }
      } catch (error) {
        await recorder.close()
        throw error
      }
    } catch (error) {
      await way.close()
      throw error
    }
  }
}
