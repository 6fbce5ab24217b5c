import type { LineError } from '../../src/protocol/line-fault.ts'
import type { SampleBatch } from '../../src/protocol/sample-lines.ts'
import { Unwrapper } from '../../src/protocol/unwrap.ts'
import type { Link, LinkOpener } from '../link/link.ts'
import { asFault } from './as-fault.ts'
import { sayHello } from './hello.ts'
import type { RigDeclarations } from './rig-facts.ts'
import { type EventMessage, RigTalk } from './rig-talk.ts'
import type { SampleIntake } from './sample-intake.ts'

/** Those who look at what a connected rig sends; the last one set is told. */
export interface ConnectionSink {
  upload(batch: SampleBatch): void
  /** `timeUs` is unwrapped. */
  event(message: EventMessage, timeUs: number): void
  fault(error: LineError): void
  /** Told every tick; `quietMs` since anything valid came. */
  tick(quietMs: number): void
  lost(reason: string): void
}

/** P-8.4: a third of the shortest watchdog that a rig may have. */
const ALIVE_MS = 100
const TICK_MS = 50
/** A rig that has not been heard for so long is gone, though its port is open. */
const GONE_MS = 1500
/** A tick that comes later than this finds the line unread: silence is judged at the next. */
const LATE_MS = 100
/** How soon `disarm` is said again while it is not acknowledged. */
const DISARM_AGAIN_MS = 40

/**
 * An open link with a rig at its end that has said who it is: keeps it alive, notices when it is
 * gone, and can always make it safe. Ends for good when the link is lost or the rig restarts.
 */
export class Connection {
  readonly talk: RigTalk
  declared!: RigDeclarations
  sink: ConnectionSink | null = null
  /** The stream that is on: takes the samples, and learns of edges and overruns as they come. */
  intake: SampleIntake | null = null
  readonly #clock = new Unwrapper()
  #ticker: NodeJS.Timeout | null = null
  #lastTickMs = 0
  #lastAliveMs = 0
  #disarming: Promise<boolean> | null = null
  readonly #gone = new AbortController()

  private constructor(link: Link) {
    this.talk = new RigTalk(link, {
      samples: batch => this.intake?.take(batch),
      upload: batch => this.sink?.upload(batch),
      event: message => this.#event(message),
      fault: error => this.sink?.fault(error),
      lost: error => this.#lose(error.message),
    })
  }

  /** @throws InputFault where the port cannot be opened or something else speaks there. */
  static async open(open: LinkOpener, signal: AbortSignal): Promise<Connection> {
    const link = await open()
    const connection = new Connection(link)
    const giveUp = () => void connection.close()
    signal.addEventListener('abort', giveUp)
    try {
      signal.throwIfAborted()
      connection.declared = await sayHello(connection.talk)
    } catch (error) {
      await connection.close()
      signal.throwIfAborted()
      throw asFault(error)
    } finally {
      signal.removeEventListener('abort', giveUp)
    }
    connection.#keepAlive()
    return connection
  }

  get ended(): boolean {
    return this.#gone.signal.aborted
  }

  /** Aborted when the connection has ended, for whatever reason. */
  get gone(): AbortSignal {
    return this.#gone.signal
  }

  /** The rig's 32-bit microseconds as a number that does not wrap. */
  timeUs(reading: number): number {
    return this.#clock.next(reading)
  }

  /**
   * Bridge off, disarmed: said at once and again until it is acknowledged (true), or the link is gone
   * (false). Calls while one is under way share it.
   */
  disarm(): Promise<boolean> {
    this.#disarming ??= this.talk
      .askAtOnce({ verb: 'disarm' }, { patienceMs: DISARM_AGAIN_MS, attempts: Infinity })
      .then(
        () => true,
        () => false,
      )
      .finally(() => {
        this.#disarming = null
      })
    return this.#disarming
  }

  async close(): Promise<void> {
    this.#end()
    await this.talk.close()
  }

  #keepAlive(): void {
    this.#lastTickMs = performance.now()
    this.#ticker = setInterval(() => this.#tick(), TICK_MS)
  }

  #tick(): void {
    const now = performance.now()
    const late = now - this.#lastTickMs > LATE_MS
    this.#lastTickMs = now
    if (now - this.#lastAliveMs > ALIVE_MS - TICK_MS / 2) {
      this.#lastAliveMs = now
      this.talk.askAtOnce({ verb: 'alive' }, { patienceMs: GONE_MS, attempts: 1 }).catch(() => {})
    }
    if (late) return
    const { quietMs } = this.talk
    this.sink?.tick(quietMs)
    if (quietMs > GONE_MS) {
      this.#lose(`nothing was heard from the rig for ${(quietMs / 1000).toFixed(1)} s`)
    }
  }

  #event(message: EventMessage): void {
    const { event } = message
    // Nothing survives a restart (P-10.4). One that boots while it is being found is simply found.
    if (event.name === 'boot' && this.#ticker !== null) {
      this.#lose(`the rig restarted (${event.cause})`)
      return
    }
    const timeUs = this.timeUs(message.timeUs)
    if (event.name === 'overrun') this.intake?.overrun(event.sequence, event.dropped)
    if (event.name === 'bridge') this.intake?.bridge.edge(timeUs, event.mode)
    this.sink?.event(message, timeUs)
  }

  #lose(reason: string): void {
    if (this.ended) return
    this.#end()
    this.sink?.lost(reason)
    void this.talk.close()
  }

  #end(): void {
    this.#gone.abort()
    if (this.#ticker !== null) clearInterval(this.#ticker)
    this.#ticker = null
  }
}
