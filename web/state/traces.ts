import type { LiveEvent } from '../../src/contract/live.ts'
import type { Quantity } from '../../src/records/quantity.ts'

/** What the live curves are drawn from: the last seconds of every channel, kept out of the component tree. */
export interface Trace {
  /** Newest mean reading, in SI. */
  latest: number
  readonly low: (number | null)[]
  readonly high: (number | null)[]
}

/** Seconds that the live curves show: a short test as long as it is planned, all else in a window that scrolls. */
const SHOWN_SEC = 20
const LEAST_SHOWN_SEC = 2
const KEPT_POINTS = 6000
/** Readings come sixty times a second; a busy computer may hold them up for this long. */
const STALE_MS = 1500

type Envelope = Extract<LiveEvent, { type: 'envelope' }>

export const traces = createTraces()

function createTraces() {
  const timeSec: number[] = []
  const channels = new Map<Quantity, Trace>()
  const listeners = new Set<() => void>()
  let received = 0
  let receivedAtMs = Number.NEGATIVE_INFINITY
  let runId: number | null = null
  let planned: { readonly runId: number; readonly durationSec: number } | null = null
  const changed = () => {
    for (const listener of listeners) listener()
  }
  function clear() {
    timeSec.length = 0
    channels.clear()
    runId = null
    changed()
  }
  function push(at: number, envelope: Envelope | null) {
    timeSec.push(at)
    for (const channel of envelope?.channels ?? []) {
      if (!channels.has(channel.quantity)) {
        const empty = () => new Array<number | null>(timeSec.length - 1).fill(null)
        channels.set(channel.quantity, { latest: channel.mean, low: empty(), high: empty() })
      }
    }
    for (const [quantity, trace] of channels) {
      const one = envelope?.channels.find(channel => channel.quantity === quantity)
      trace.low.push(one ? one.low : null)
      trace.high.push(one ? one.high : null)
      if (one) trace.latest = one.mean
    }
  }
  return {
    timeSec: timeSec as readonly number[],
    channels: channels as ReadonlyMap<Quantity, Trace>,
    /** Seconds that are shown at once. */
    get spanSec() {
      if (runId === null || planned?.runId !== runId) return SHOWN_SEC
      return Math.max(LEAST_SHOWN_SEC, Math.min(SHOWN_SEC, 1.05 * planned.durationSec))
    },
    /** How long a run will last. */
    expect(run: number, durationSec: number) {
      planned = { runId: run, durationSec }
    },
    /** True where the newest reading is no reading of now: nothing has come for a while. */
    get isStale() {
      return performance.now() - receivedAtMs > STALE_MS
    },
    /** Envelopes that arrived since the page was opened. */
    get received() {
      return received
    },
    add(envelope: Envelope) {
      received += 1
      receivedAtMs = performance.now()
      const last = timeSec.at(-1)
      // The clock starts anew with every run and every monitoring.
      if (last !== undefined && envelope.toSec < last) clear()
      else if (last !== undefined && envelope.fromSec - last > 0.5) push(last + 1e-6, null)
      push(envelope.toSec, envelope)
      runId = envelope.runId
      const surplus = timeSec.length - KEPT_POINTS
      if (surplus > KEPT_POINTS / 2) {
        timeSec.splice(0, surplus)
        for (const trace of channels.values()) {
          trace.low.splice(0, surplus)
          trace.high.splice(0, surplus)
        }
      }
      changed()
    },
    markGap() {
      const last = timeSec.at(-1)
      if (last !== undefined) push(last + 1e-6, null)
    },
    clear,
    listen(listener: () => void) {
      listeners.add(listener)
      return () => {
        listeners.delete(listener)
      }
    },
  }
}
