import type { LinkCounters, LiveEvent } from '../../src/contract/live.ts'
import type { Trip } from '../../src/procedure/trip.ts'
import {
  newWatch,
  watchBus,
  watchRules,
  watchSamples,
  watchSilence,
} from '../../src/procedure/watch.ts'
import { faultText, type LineError } from '../../src/protocol/line-fault.ts'
import type { Quantity } from '../../src/records/quantity.ts'
import type { RunOutcome, RunRequest } from './bench-session.ts'
import type { BurstCapture } from './burst-capture.ts'
import type { Connection } from './connection.ts'
import { Envelopes } from './envelopes.ts'
import { eventText, rigTripText } from './event-text.ts'
import { readStatus } from './hello.ts'
import { pauseUntil } from './pause.ts'
import type { RigFacts } from './rig-facts.ts'
import type { EventMessage } from './rig-talk.ts'
import { COMPLETE, lostBecause, type RunEnd, stoppedBecause, trippedBy } from './run-end.ts'
import type { RunLog } from './run-log.ts'
import type { IntakeSink, SampleIntake, SeenSamples } from './sample-intake.ts'
import { type AgreedSampling, endStream, startStream } from './sample-stream.ts'
import { StepDriver } from './step-driver.ts'
import type { Tally } from './tally.ts'
import { watchedSamples } from './watched-samples.ts'

const FIRST_SAMPLE_MS = 1000
const BUS_EVERY_MS = 250
/** So many contradictory batches one after the other are no accident of the line. */
const CONTRADICTIONS = 10

export interface RunParts {
  readonly connection: Connection
  readonly sampling: AgreedSampling
  readonly rig: RigFacts
  readonly log: RunLog
  readonly burst: BurstCapture | null
  readonly request: RunRequest
  readonly emit: (event: LiveEvent) => void
  readonly tally: Tally
}

/**
 * One run from the first sample to the last: drives the plan, writes everything down, watches every
 * sample. The first reason to end it counts; the bridge is off before anything else is done about it.
 */
export class RunInHand implements IntakeSink {
  readonly #parts: RunParts
  readonly #rules
  readonly #watch = newWatch()
  readonly #envelopes: Envelopes
  readonly #driver: StepDriver
  readonly #ended = new AbortController()
  readonly #before: LinkCounters
  #intake: SampleIntake | null = null
  #end: RunEnd | null = null
  #onFirst: (() => void) | null = null
  #busMs = 0
  #newestSec = Number.NaN

  constructor(parts: RunParts) {
    const { connection, rig, request, emit, log } = parts
    const { channels, limits } = rig
    this.#parts = parts
    this.#rules = watchRules(request.plan)
    this.#envelopes = new Envelopes(
      channels.map(channel => channel.quantity),
      envelope => emit({ type: 'envelope', runId: log.runId, ...envelope }),
    )
    const { plan } = request
    const { signal } = this.#ended
    const rigSec = () => this.#newestSec
    this.#driver = new StepDriver(
      connection,
      plan,
      limits,
      signal,
      emit,
      parts.burst,
      rigSec,
      this.#watch.thermometer,
    )
    this.#before = parts.tally.counters
  }

  get runId(): number {
    return this.#parts.log.runId
  }

  /** The first reason counts. Returns at once; the bridge is being switched off by then. */
  end(end: RunEnd, atSec = this.#newestSec): void {
    if (this.#end !== null) return
    this.#end = end
    void this.#parts.connection.disarm()
    this.#ended.abort()
    if (end.trip === null) return
    this.#parts.emit({ type: 'trip', ...end.trip })
    // A trip of the rig's is in the diary as the event that it is.
    if (end.trip.by === 'rig') return
    this.#parts.log.note(Number.isNaN(atSec) ? null : atSec, end.trip.code, end.text)
  }

  async go(): Promise<RunOutcome> {
    const { connection, sampling, log, request, tally } = this.#parts
    const onAbort = () => this.end(stoppedBecause(reasonOf(request.signal)))
    request.signal?.addEventListener('abort', onAbort)
    if (request.signal?.aborted) onAbort()
    try {
      this.#intake = await startStream(connection, sampling, tally.counting(this))
      await this.#firstSample()
      if (this.#end === null) this.end((await this.#driver.drive()) ?? COMPLETE)
    } catch (error) {
      const { message } = error as Error
      this.end(connection.ended ? lostBecause(message) : trippedBy('host', 'no-answer', message))
    } finally {
      request.signal?.removeEventListener('abort', onAbort)
    }
    const isSafe = await connection.disarm()
    await endStream(connection)
    this.#envelopes.flush()
    this.#noteStrays()
    return this.#finish(isSafe ? this.#end! : neverAcknowledged(this.#end!), log)
  }

  // What the connection brings.

  chunk(chunk: Parameters<RunLog['samples']>[0]): void {
    this.#parts.log.samples(chunk)
  }

  seen({ count, timeSec, bridge, columns }: SeenSamples): void {
    this.#newestSec = timeSec[count - 1]!
    this.#onFirst?.()
    this.#envelopes.add(timeSec, columns, count)
    if (this.#end !== null) return
    const samples = watchedSamples(
      count,
      timeSec,
      bridge,
      quantity => columns[this.#column(quantity)],
    )
    this.#judge(watchSamples(this.#watch, samples, this.#rules))
  }

  lost({ link, rig }: { link: number; rig: number }): void {
    if (link > 0) this.#parts.log.lost(link, 'link')
    if (rig > 0) this.#parts.log.lost(rig, 'rig')
  }

  refused(reason: string): void {
    this.#parts.log.rejected('', reason)
    if (this.#parts.connection.intake!.refusedInARow > CONTRADICTIONS) {
      this.end(trippedBy('host', 'rig-contradicts', `the rig contradicts itself: ${reason}`))
    }
  }

  fault({ raw, fault }: LineError): void {
    this.#parts.log.rejected(raw, faultText(fault))
  }

  event(message: EventMessage, timeUs: number): void {
    const { event } = message
    this.#driver.event(message)
    this.#parts.burst?.event(message, timeUs)
    const timeSec = this.#seconds(timeUs)
    if (event.name === 'bridge') {
      const setVolt = event.mode === 'drive' ? event.setVolt : null
      if (timeSec !== null) this.#parts.log.edge({ timeSec, state: event.mode, setVolt })
    } else this.#parts.log.note(timeSec, event.name, eventText(event))
    if (event.name === 'trip') this.end(trippedBy('rig', event.code, rigTripText(event)))
  }

  tick(quietMs: number): void {
    if (this.#end !== null) return
    // While nothing is driven a pause of the line costs nothing but samples, which are counted.
    if (this.#rules.drives) this.#judge(watchSilence(this.#watch, quietMs / 1000, this.#rules))
    const { health } = this.#parts.log
    if (health.state === 'failed') this.end(trippedBy('host', 'not-stored', health.text))
    if (Number.isFinite(this.#rules.busVolt) && performance.now() - this.#busMs > BUS_EVERY_MS) {
      this.#busMs = performance.now()
      void this.#askBus()
    }
  }

  linkLost(reason: string): void {
    this.end(lostBecause(reason))
  }

  async #askBus(): Promise<void> {
    try {
      const { busVolt } = await readStatus(this.#parts.connection.talk)
      if (this.#end === null) {
        this.#judge(watchBus(this.#watch, this.#watch.lastSec, busVolt, this.#rules))
      }
    } catch {
      // A rig that does not answer is the silence's business.
    }
  }

  #column(quantity: Quantity): number {
    return this.#parts.rig.channels.findIndex(channel => channel.quantity === quantity)
  }

  #judge(trip: Trip | null): void {
    if (trip) this.end(trippedBy('host', trip.code, trip.text), trip.timeSec)
  }

  /** Nothing is driven before samples come. */
  async #firstSample(): Promise<void> {
    if ((this.#intake?.samples ?? 0) > 0) return
    const came = new AbortController()
    const stop = () => came.abort()
    this.#onFirst = stop
    this.#ended.signal.addEventListener('abort', stop)
    await pauseUntil(FIRST_SAMPLE_MS, came.signal)
    this.#ended.signal.removeEventListener('abort', stop)
    this.#onFirst = null
    if (!came.signal.aborted) throw new Error('the rig was told to stream and sent no sample')
  }

  #noteStrays(): void {
    const stray = this.#intake?.worstStrayUs ?? 0
    if (stray > 0) {
      const text = `sample times lie up to ${Math.round(stray)} µs off an even grid; a rig keeps 2 µs`
      this.#parts.log.note(null, 'uneven-times', text)
    }
  }

  async #finish({ ending, text, trip }: RunEnd, log: RunLog): Promise<RunOutcome> {
    const now = this.#parts.tally.counters
    const counters = {
      samples: this.#intake?.samples ?? 0,
      samplesLost: this.#intake?.ledger.total ?? 0,
      linesRejected: now.linesRejected - this.#before.linesRejected,
      bytes: now.bytes - this.#before.bytes,
    }
    await log.finish(ending, text, counters)
    return { runId: log.runId, ending, text, counters, trip }
  }

  #seconds(timeUs: number): number | null {
    return this.#intake?.secondsOf(timeUs) ?? null
  }
}

/** Whatever it was that ended the run, the link went before the rig had said that the bridge is off. */
function neverAcknowledged(end: RunEnd): RunEnd {
  if (end.ending === 'link-lost') return end
  const text = `${end.text}; the rig did not acknowledge it: its own watchdog opens the bridge`
  return { ...end, ending: 'link-lost', text }
}

function reasonOf(signal: AbortSignal | undefined): string {
  const reason: unknown = signal?.reason
  return reason instanceof Error && reason.name !== 'AbortError' ? reason.message : 'stopped'
}
