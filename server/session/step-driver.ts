import type { LiveEvent } from '../../src/contract/live.ts'
import type { DriveStep, TestPlan } from '../../src/procedure/test-plan.ts'
import { drivenUnder } from '../../src/procedure/thermostat.ts'
import type { WindingThermometer } from '../../src/procedure/winding-thermometer.ts'
import type { BurstCapture } from './burst-capture.ts'
import type { Connection } from './connection.ts'
import { pauseUntil } from './pause.ts'
import type { RigLimits } from './rig-facts.ts'
import type { EventMessage } from './rig-talk.ts'
import { type RunEnd, trippedBy } from './run-end.ts'

/**
 * A step that leads into another driven one carries this much more time than it needs: the next
 * command takes its place before it ends, so that the bridge does not open in between (P-8.3).
 */
const OVERLAP_SEC = 0.05
/** Where there is no room for that, the next command goes out this much early. */
const EARLY_SEC = 0.03
/**
 * The samples say how late it is on the rig: it has to be this close to the end of a step before the
 * next begins, should its clock ever fall behind the host's. Samples are up to 20 ms old.
 */
const CLOCK_SLACK_SEC = 0.025
const CLOCK_PATIENCE_MS = 500
const CLOCK_POLL_MS = 5
/** The rig's own end of a step is waited for this long beyond it. */
const END_PATIENCE_MS = 100

/** Sends the steps of a plan to an armed rig, each at its time, until the run has ended. */
export class StepDriver {
  readonly #connection: Connection
  readonly #plan: TestPlan
  readonly #limits: RigLimits
  readonly #ended: AbortSignal
  readonly #emit: (event: LiveEvent) => void
  readonly #burst: BurstCapture | null
  /** Time of the newest sample. */
  readonly #rigSec: () => number
  /** What the watch knows of the winding, for steps under a thermostat. */
  readonly #winding: WindingThermometer
  /** Ids of drive commands that the rig says are over. */
  #drivesOver = new Set<number>()
  #overListener: (() => void) | null = null

  constructor(
    connection: Connection,
    plan: TestPlan,
    limits: RigLimits,
    ended: AbortSignal,
    emit: (event: LiveEvent) => void,
    burst: BurstCapture | null,
    rigSec: () => number,
    winding: WindingThermometer,
  ) {
    this.#connection = connection
    this.#plan = plan
    this.#limits = limits
    this.#ended = ended
    this.#emit = emit
    this.#burst = burst
    this.#rigSec = rigSec
    this.#winding = winding
  }

  event({ event }: EventMessage): void {
    if (event.name !== 'drive-ended') return
    this.#drivesOver.add(event.id)
    this.#overListener?.()
  }

  /** Null when every step was driven, else why it had to end; silent where it had ended already. */
  async drive(): Promise<RunEnd | null> {
    const { steps } = this.#plan
    let nextMs = performance.now()
    for (let at = 0; at < steps.length && !this.#ended.aborted; at++) {
      const step = steps[at]!
      this.#emit({ type: 'step', index: at, count: steps.length, text: step.purpose })
      if (this.#burst && this.#isTimeForBurst(at)) await this.#burst.arm()
      const following = steps[at + 1]
      const seamless =
        step.bridge !== 'coast' && following !== undefined && following.bridge !== 'coast'
      const room = Math.min(OVERLAP_SEC, this.#limits.longestDriveSec - step.durationSec)
      const overlapSec = seamless ? Math.max(0, room) : 0
      let id: number | null = null
      if (step.bridge !== 'coast') {
        const sent = await this.#command(
          { ...step, ...drivenUnder(step, this.#winding) },
          overlapSec,
        )
        if (typeof sent !== 'number') return sent
        id = sent
      }
      const earlySec = seamless && overlapSec < EARLY_SEC ? EARLY_SEC : 0
      const endSec = this.#rigSec() + step.durationSec - earlySec - CLOCK_SLACK_SEC
      if (at === 0) nextMs = performance.now()
      nextMs += step.durationSec * 1000
      await pauseUntil(nextMs - earlySec * 1000 - performance.now(), this.#ended)
      if (id !== null && !seamless) await this.#over(id)
      else nextMs += await this.#rigReaches(endSec)
    }
    return null
  }

  /** Ahead of its step, in the coasting before it where there is any: the part before the trigger takes time. */
  #isTimeForBurst(at: number): boolean {
    const { steps } = this.#plan
    const wanted = this.#burst!.request.step
    const coastsInto = (k: number) => steps[k]?.bridge === 'coast' && k + 1 === wanted
    return coastsInto(at) || (at === wanted && !coastsInto(at - 1))
  }

  async #command(step: DriveStep, overlapSec: number): Promise<number | RunEnd> {
    const { answer } = await this.#connection.talk.ask({
      verb: 'drive',
      mode: step.bridge === 'drive' ? 'voltage' : step.bridge,
      setVolt: step.bridge === 'drive' ? step.setVolt : 0,
      durationSec: step.durationSec + overlapSec,
      currentLimitAmp: step.currentLimitAmp,
      after: 'coast',
    })
    if (answer.kind === 'ok') return answer.id
    return trippedBy('rig', answer.code, `the rig refused to drive: ${answer.words}`)
  }

  /** Milliseconds that it took beyond what the host's clock had said. */
  async #rigReaches(sec: number): Promise<number> {
    const startMs = performance.now()
    let waitedMs = 0
    while (this.#rigSec() < sec && waitedMs < CLOCK_PATIENCE_MS && !this.#ended.aborted) {
      await pauseUntil(CLOCK_POLL_MS, this.#ended)
      waitedMs = performance.now() - startMs
    }
    return waitedMs
  }

  async #over(id: number): Promise<void> {
    if (this.#drivesOver.has(id)) return
    const waiting = new AbortController()
    const stop = () => waiting.abort()
    this.#overListener = () => {
      if (this.#drivesOver.has(id)) stop()
    }
    this.#ended.addEventListener('abort', stop)
    await pauseUntil(END_PATIENCE_MS, waiting.signal)
    this.#ended.removeEventListener('abort', stop)
    this.#overListener = null
  }
}
