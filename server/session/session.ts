import { InputFault, WorkFault } from '../../src/base/faults.ts'
import type { LinkCounters, LiveEvent } from '../../src/contract/live.ts'
import type { LineError } from '../../src/protocol/line-fault.ts'
import type { SampleBatch } from '../../src/protocol/sample-lines.ts'
import { asFault } from './as-fault.ts'
import { measureAtRest, startMonitor } from './at-rest.ts'
import type {
  BenchSession,
  CautionsToken,
  ChannelReading,
  RunOutcome,
  RunRequest,
  SessionOptions,
  SessionState,
} from './bench-session.ts'
import type { BurstCapture } from './burst-capture.ts'
import { keepBurst } from './burst-log.ts'
import { Connection, type ConnectionSink } from './connection.ts'
import { rigTripText } from './event-text.ts'
import { type PreparedRun, prepareRun } from './prepare-run.ts'
import { checkSameRig, factsOf, type RigFacts } from './rig-facts.ts'
import type { EventMessage } from './rig-talk.ts'
import { stoppedBecause } from './run-end.ts'
import { RunInHand } from './run-in-hand.ts'
import { checkPlan, planDrives } from './run-request.ts'
import { endStream } from './sample-stream.ts'
import { Tally } from './tally.ts'

const COUNTERS_EVERY_MS = 250
const SILENT_MS = 300

/** A `BenchSession` over one connection after another. From `connectBench`. */
export class Session implements BenchSession, ConnectionSink {
  state: SessionState = 'ready'
  rig: RigFacts
  readonly #options: SessionOptions
  readonly #listeners = new Set<(event: LiveEvent) => void>()
  #connection: Connection
  /** Good for the present connection only. */
  #token: CautionsToken
  #run: RunInHand | null = null
  #burst: BurstCapture | null = null
  #tally: Tally
  /** A stop that came before the run that it is meant for existed. */
  #stopWanted: string | null = null
  #countersMs = 0
  #isSilent = false

  constructor(options: SessionOptions, connection: Connection) {
    this.#options = options
    this.#connection = connection
    this.rig = factsOf(connection.declared)
    this.#token = newToken()
    this.#tally = new Tally(connection.talk.counters)
    connection.sink = this
  }

  get describe(): string {
    return this.#connection.talk.link.describe
  }

  get runId(): number | null {
    return this.#run?.runId ?? null
  }

  get counters(): LinkCounters {
    return this.#tally.counters
  }

  listen(listener: (event: LiveEvent) => void): () => void {
    this.#listeners.add(listener)
    return () => this.#listeners.delete(listener)
  }

  /** Tells the listeners that the rig is there. */
  announce(): void {
    const { model, serialNumber, simulated } = this.rig
    const text = `${model}, serial number ${serialNumber}${simulated ? ', simulated' : ''}`
    this.#emit({ type: 'link', state: 'ready', text })
  }

  acknowledgeCautions(): CautionsToken {
    return this.#token
  }

  async run(request: RunRequest): Promise<RunOutcome> {
    const { recorder } = this.#options
    if (recorder === null) throw new RangeError('recorder = null; a session that logs needs one')
    checkPlan(request.plan, this.rig, this.#options.declaredAbove60Volt ?? false)
    if (planDrives(request.plan) && !this.rig.simulated && request.acknowledged !== this.#token) {
      throw new InputFault(
        'the cautions were not acknowledged on this connection; read and acknowledge them before the first drive',
      )
    }
    await this.#toRest('running')
    const connection = this.#connection
    try {
      const prepared = await prepareRun(connection, request, this.rig, recorder)
      const outcome = await this.#drive(request, prepared)
      if (prepared.burst === null) return outcome
      const burstRunId = await keepBurst(prepared.burst, request, this.rig, recorder)
      return { ...outcome, burstRunId }
    } catch (error) {
      throw asFault(error)
    } finally {
      // Where the run was never driven, arming may have happened all the same.
      await connection.disarm()
      this.#run = null
      this.#burst = null
      this.#settle('running')
    }
  }

  async #drive(request: RunRequest, prepared: PreparedRun): Promise<RunOutcome> {
    const { log, burst } = prepared
    this.#burst = burst
    const run = new RunInHand({
      connection: this.#connection,
      request,
      tally: this.#tally,
      emit: event => this.#emit(event),
      ...prepared,
    })
    this.#run = run
    const { kind } = request.plan
    this.#emit({ type: 'run-started', runId: log.runId, kind, motor: request.motor.name })
    if (this.#connection.ended) run.linkLost('the link was lost before the first sample')
    if (this.#stopWanted !== null) run.end(stoppedBecause(this.#stopWanted))
    const outcome = await run.go()
    this.#emitCounters()
    const { runId, ending, text } = outcome
    this.#emit({ type: 'run-ended', runId, ending, text })
    return outcome
  }

  async monitor(rateHz: number): Promise<void> {
    await this.#toRest('monitoring')
    try {
      await startMonitor(this.#connection, rateHz, this.#tally, event => this.#emit(event))
    } catch (error) {
      this.#settle('monitoring')
      throw asFault(error)
    }
  }

  async idle(): Promise<void> {
    if (this.state !== 'monitoring') return
    await endStream(this.#connection)
    this.#settle('monitoring')
  }

  async measure(durationSec: number, rateHz: number): Promise<readonly ChannelReading[]> {
    await this.#toRest('measuring')
    try {
      return await measureAtRest(this.#connection, durationSec, rateHz, this.#tally)
    } catch (error) {
      throw asFault(error)
    } finally {
      this.#settle('measuring')
    }
  }

  async stop(reason: string): Promise<void> {
    if (this.#run !== null) this.#run.end(stoppedBecause(reason))
    else if (this.state === 'running') this.#stopWanted = reason
    await this.#connection.disarm()
  }

  async resume(): Promise<void> {
    if (this.state !== 'lost') return
    this.#emit({ type: 'link', state: 'connecting', text: 'looking for the rig again' })
    const before = this.#connection.declared
    const signal = this.#options.signal ?? new AbortController().signal
    const connection = await Connection.open(this.#options.open, signal)
    try {
      checkSameRig(before, connection.declared)
    } catch (error) {
      await connection.close()
      throw error
    }
    this.#connection = connection
    this.rig = factsOf(connection.declared)
    this.#token = newToken()
    this.#tally = new Tally(connection.talk.counters)
    connection.sink = this
    this.state = 'ready'
    this.announce()
  }

  async close(): Promise<void> {
    if (this.state === 'closed') return
    await this.stop('the session was closed')
    this.state = 'closed'
    await this.#connection.close()
  }

  // What the connection brings.

  upload(batch: SampleBatch): void {
    this.#burst?.upload(batch)
  }

  event(message: EventMessage, timeUs: number): void {
    this.#run?.event(message, timeUs)
    const { event } = message
    if (this.#run === null && event.name === 'trip') {
      this.#emit({ type: 'trip', by: 'rig', code: event.code, text: rigTripText(event) })
    }
  }

  fault(error: LineError): void {
    this.#run?.fault(error)
  }

  tick(quietMs: number): void {
    const isSilent = quietMs > SILENT_MS
    if (isSilent !== this.#isSilent) {
      this.#isSilent = isSilent
      if (isSilent) this.#emit({ type: 'link', state: 'silent', text: 'the rig is not heard' })
      else this.announce()
    }
    this.#run?.tick(quietMs)
    if (performance.now() - this.#countersMs >= COUNTERS_EVERY_MS) this.#emitCounters()
  }

  lost(reason: string): void {
    if (this.state !== 'closed') this.state = 'lost'
    this.#emit({ type: 'link', state: 'lost', text: reason })
    this.#run?.linkLost(reason)
  }

  /** Into a state that only one at a time may have; monitoring makes room for it. */
  async #toRest(next: 'running' | 'monitoring' | 'measuring'): Promise<void> {
    if (this.state === 'lost' || this.state === 'closed') {
      throw new WorkFault(`the rig at ${this.describe} is not connected`)
    }
    if (this.state !== 'ready' && this.state !== 'monitoring') {
      throw new InputFault(`the rig is busy (${this.state}); wait until it is done, or stop it`)
    }
    const wasMonitoring = this.state === 'monitoring'
    this.state = next
    this.#stopWanted = null
    if (wasMonitoring) await endStream(this.#connection)
  }

  #settle(from: SessionState): void {
    if (this.state === from) this.state = 'ready'
  }

  #emitCounters(): void {
    this.#countersMs = performance.now()
    this.#emit({ type: 'counters', counters: this.counters })
  }

  #emit(event: LiveEvent): void {
    for (const listener of this.#listeners) listener(event)
  }
}

const newToken = () => ({}) as CautionsToken
