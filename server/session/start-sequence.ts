import { StoppedFault } from '../../src/base/faults.ts'
import type { AnswerValue } from '../../src/procedure/question.ts'
import { advance, beginSequence, type Transition } from '../../src/procedure/sequence.ts'
import type { SequenceCommand } from '../../src/procedure/sequence-command.ts'
import type { SequenceEvent } from '../../src/procedure/sequence-event.ts'
import {
  BENCH_SETTINGS,
  type SequenceSettings,
  type SequenceState,
  SIMULATED_SETTINGS,
} from '../../src/procedure/sequence-state.ts'
import { sequenceView } from '../../src/procedure/sequence-view.ts'
import { CAUTIONS_QUESTION } from '../../src/procedure/steps/cautions.ts'
import { summarise } from '../../src/procedure/summary.ts'
import type { Motor } from '../../src/records/motor.ts'
import { runJob } from '../jobs/run-job.ts'
import type { Store, StoredFit } from '../store/store.ts'
import type { BenchSession, CautionsToken, RunOutcome } from './bench-session.ts'
import { PatientWrites } from './patient-writes.ts'
import { procedureFacts } from './rig-facts.ts'
import type {
  SequenceNews,
  SequenceOutcome,
  SequenceRunner,
  SimulatedHands,
} from './sequence-runner.ts'
import { waitUntilStill } from './standstill.ts'

export interface SequenceDeps {
  readonly session: BenchSession
  readonly store: Store
  readonly motor: Motor
  /** Whoever clamps the shaft of a simulated rig; null where a person does. */
  readonly hands: SimulatedHands | null
  /** Milliseconds since 1970. */
  readonly now: () => number
  /** Goes on with the motor's unfinished sequence where there is one. */
  readonly resume: boolean
  readonly settings?: SequenceSettings
  /** At which R, L and k are reported. */
  readonly referenceTemperatureCelsius: number
}

const TICK_MS = 500

export function startSequence(deps: SequenceDeps): SequenceRunner {
  return new Runner(deps)
}

type SomeEvent = SequenceEvent extends infer E
  ? E extends unknown
    ? Omit<E, 'nowSec'>
    : never
  : never

class Runner implements SequenceRunner {
  readonly done: Promise<SequenceOutcome>
  readonly #deps: SequenceDeps
  readonly #listeners = new Set<(news: SequenceNews) => void>()
  readonly #storedId: number
  readonly #unlisten: () => void
  readonly #writes = new PatientWrites(text => this.#tellUnkept(text))
  #resolveDone!: (outcome: SequenceOutcome) => void
  #state: SequenceState
  #acknowledged: CautionsToken | null = null
  #abortTest: AbortController | null = null
  #abortFit: AbortController | null = null
  #timer: NodeJS.Timeout | null = null
  /** Commands are carried out one after the other; the next begins when the last has replied. */
  #queue: Promise<void> = Promise.resolve()
  #fit: StoredFit | null = null
  #runIds: readonly number[] = []
  #ended = false

  constructor(deps: SequenceDeps) {
    this.#deps = deps
    this.done = new Promise(resolve => {
      this.#resolveDone = resolve
    })
    const unfinished = deps.resume ? deps.store.sequences.unfinished(deps.motor.id) : null
    const first = unfinished ? resumed(deps, unfinished.state as SequenceState) : begun(deps)
    this.#state = first.state
    this.#storedId = unfinished?.id ?? deps.store.sequences.begin(deps.motor.id, first.state).id
    this.#unlisten = deps.session.listen(event => {
      if (event.type === 'link' && event.state === 'lost' && this.#abortTest === null) {
        this.#acknowledged = null
        this.#dispatch({ type: 'link-lost', text: event.text })
      }
    })
    // Listeners are added after the constructor returns.
    setImmediate(() => this.#take(first))
  }

  get view() {
    return sequenceView(this.#state, this.#nowSec())
  }

  listen(listener: (news: SequenceNews) => void): () => void {
    this.#listeners.add(listener)
    return () => this.#listeners.delete(listener)
  }

  answer(questionId: string, value: AnswerValue): void {
    if (questionId === CAUTIONS_QUESTION.id && value === true) {
      this.#acknowledged = this.#deps.session.acknowledgeCautions()
    }
    this.#dispatch({ type: 'answer', questionId, value })
  }

  async act(act: 'back' | 'repeat' | 'skip' | 'resume'): Promise<void> {
    if (act !== 'resume') return this.#dispatch({ type: act })
    const isLost = this.#deps.session.state === 'lost'
    if (isLost) {
      await this.#deps.session.resume()
      this.#acknowledged = null
    }
    this.#dispatch({ type: 'resume', rig: factsFor(this.#deps), newConnection: isLost })
  }

  async stop(reason: string): Promise<void> {
    const stopped = this.#deps.session.stop(reason)
    this.#abortFit?.abort()
    this.#dispatch({ type: 'stop' })
    await stopped
  }

  async leave(): Promise<void> {
    if (this.#ended) return
    await this.#deps.session.stop('the sequence was left').catch(() => {})
    this.#abortFit?.abort()
    this.#end({ outcome: 'left', text: 'the sequence was left; it can be resumed' })
  }

  #nowSec(): number {
    return this.#deps.now() / 1000
  }

  #dispatch(event: SomeEvent): void {
    if (this.#ended) return
    this.#take(advance(this.#state, { ...event, nowSec: this.#nowSec() } as SequenceEvent))
  }

  #take({ state, commands }: Transition): void {
    if (this.#ended) return
    this.#state = state
    this.#writes.write('place', () => this.#deps.store.sequences.save(this.#storedId, state))
    this.#tell({ type: 'view', view: this.view })
    for (const command of commands) {
      // A stop waits for nothing.
      if (command.type === 'stop-now') void this.#deps.session.stop('stopped').catch(() => {})
      else this.#queue = this.#queue.then(() => this.#carryOut(command))
    }
  }

  #finishStored(): void {
    const state = this.#state
    this.#writes.write('place', () => this.#deps.store.sequences.finish(this.#storedId, state))
  }

  #tellUnkept(text: string): void {
    this.#tell({
      type: 'told',
      tone: 'warning',
      text: `the place of the sequence is not stored, which is tried again: ${text}`,
    })
  }

  #tell(news: SequenceNews): void {
    for (const listener of this.#listeners) listener(news)
  }

  async #carryOut(command: Exclude<SequenceCommand, { type: 'stop-now' }>): Promise<void> {
    if (this.#ended) return
    switch (command.type) {
      case 'tell':
        this.#tell({ type: 'told', tone: command.tone, text: command.text })
        return
      case 'ask':
        // The question stands in the view until it is answered.
        return
      case 'make-safe':
        return this.#makeSafe(command.why)
      case 'set-simulated-shaft':
        return this.#moveShaft(command.shaft, command.angleRad)
      case 'run-test':
        return this.#runTest(command)
      case 'wait':
        return this.#wait(command.untilSec)
      case 'identify':
        void this.#identify(command.runIds)
        return
      case 'finished':
        this.#finishStored()
        this.#end({ outcome: command.outcome, text: command.text })
        return
      default:
        command satisfies never
    }
  }

  async #makeSafe(why: string): Promise<void> {
    try {
      await this.#deps.session.stop(why)
      await waitUntilStill(this.#deps.session, this.#deps.now)
      this.#dispatch({ type: 'made-safe' })
    } catch (error) {
      this.#dispatch({ type: 'not-safe', text: (error as Error).message })
    }
  }

  async #moveShaft(shaft: 'locked' | 'free', angleRad: number | null): Promise<void> {
    try {
      await this.#deps.hands?.setShaft(shaft, angleRad)
    } catch (error) {
      this.#dispatch({ type: 'not-safe', text: (error as Error).message })
    }
  }

  async #runTest(command: Extract<SequenceCommand, { type: 'run-test' }>): Promise<void> {
    // Stopped or paused while it stood in the queue.
    if (this.#state.pending?.type !== 'test') return
    const { session, store, motor } = this.#deps
    this.#abortTest = new AbortController()
    let outcome: RunOutcome
    try {
      outcome = await session.run({
        plan: { ...command.plan, role: command.role },
        motor,
        acknowledged: this.#acknowledged,
        signal: this.#abortTest.signal,
      })
    } catch (error) {
      this.#dispatch({ type: 'test-failed', text: (error as Error).message })
      return
    } finally {
      this.#abortTest = null
    }
    this.#writes.write(`run ${outcome.runId}`, () => {
      store.runs.change(outcome.runId, { title: command.title })
    })
    const test = {
      runId: outcome.runId,
      ending: outcome.ending,
      summary:
        outcome.counters.samples > 0
          ? summarise(store.runs.recording(outcome.runId), command.plan)
          : null,
    }
    if (outcome.trip) this.#dispatch({ type: 'tripped', ...outcome.trip, test })
    else if (outcome.ending === 'link-lost') {
      this.#acknowledged = null
      this.#dispatch({ type: 'link-lost', text: outcome.text })
    } else this.#dispatch({ type: 'test-finished', test })
  }

  #wait(untilSec: number): void {
    if (this.#timer) clearInterval(this.#timer)
    this.#timer = setInterval(() => {
      const isOver = this.#nowSec() >= untilSec
      if (this.#state.pending?.type !== 'wait' || isOver) this.#stopWaiting()
      if (isOver) this.#dispatch({ type: 'tick' })
      else this.#tell({ type: 'view', view: this.view })
    }, TICK_MS)
  }

  #stopWaiting(): void {
    if (this.#timer) clearInterval(this.#timer)
    this.#timer = null
  }

  async #identify(runIds: readonly number[]): Promise<void> {
    const { store, motor, referenceTemperatureCelsius } = this.#deps
    this.#abortFit = new AbortController()
    this.#runIds = runIds
    try {
      this.#fit = await runJob(
        'fit',
        {
          storeFile: store.file,
          motor: motor.name,
          runIds,
          settings: { fixed: {}, freed: [], referenceTemperatureCelsius },
        },
        {
          onReport: report => this.#tell({ type: 'identifying', ...report }),
          signal: this.#abortFit.signal,
        },
      )
      const determined = Object.values(this.#fit.document.parameters).filter(p => p.value !== null)
      this.#dispatch({
        type: 'identified',
        text: `${determined.length} parameters from ${runIds.length} runs`,
      })
    } catch (error) {
      if (error instanceof StoppedFault) return
      this.#dispatch({ type: 'identify-failed', text: (error as Error).message })
    } finally {
      this.#abortFit = null
    }
  }

  #end(ending: { outcome: SequenceOutcome['outcome']; text: string }): void {
    if (this.#ended) return
    this.#ended = true
    this.#stopWaiting()
    this.#unlisten()
    this.#writes.end()
    this.#resolveDone({ ...ending, runIds: this.#runIds, fit: this.#fit })
  }
}

function factsFor({ session }: SequenceDeps) {
  return procedureFacts(session.rig, null)
}

function begun(deps: SequenceDeps): Transition {
  const { session, store, motor, now } = deps
  const bench = store.benches.ofRig(session.rig.serialNumber)
  return beginSequence({
    motor: motor.name,
    rig: factsFor(deps),
    settings: deps.settings ?? (session.rig.simulated ? SIMULATED_SETTINGS : BENCH_SETTINGS),
    fixture: bench?.fixture ?? null,
    above60VoltDeclared: bench?.declaredAbove60Volt ?? false,
    nowSec: now() / 1000,
  })
}

/** As after a lost link: whatever was under way has ended, and this is a new connection. */
function resumed(deps: SequenceDeps, stored: SequenceState): Transition {
  const nowSec = deps.now() / 1000
  const lost = advance(stored, { type: 'link-lost', text: 'the sequence was interrupted', nowSec })
  return advance(lost.state, { type: 'resume', rig: factsFor(deps), newConnection: true, nowSec })
}
