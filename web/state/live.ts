import type { BenchView } from '../../src/contract/http-bench.ts'
import type { JobView } from '../../src/contract/http-motors.ts'
import { API_ROOT, PATHS } from '../../src/contract/http-paths.ts'
import type { LiveEvent } from '../../src/contract/live.ts'
import type { PageEvent } from '../../src/contract/page-event.ts'
import { setStream, streamName } from '../api.ts'
import { createCell } from './cell.ts'
import { traces } from './traces.ts'

/**
 * The live stream: one a page, opened at its start. Everything that several views show of the bench
 * comes from here. Safety never depends on it: when it ends, the server stops the motor.
 */
export const bench = createCell<BenchView | null>(null)
/** `resting`: too many pages of this browser are open; this one looks on again once somebody turns to it. */
export const linked = createCell<'opening' | 'open' | 'broken' | 'resting'>('opening')
export const jobs = createCell<ReadonlyMap<string, JobView>>(new Map())
/** Words of the sequence or the watch that a person should see, the newest last. */
export const told = createCell<
  readonly { readonly id: number; readonly text: string; readonly tone: 'plain' | 'bad' }[]
>([])
/** The run that has just ended, for the views that list runs. */
export const lastRun = createCell<{ readonly runId: number; readonly text: string } | null>(null)

/** The motor that was tested last from this page: most likely it is still clamped. */
export const motorOnBench = createCell<number | null>(null)
/** What the guided sequence has said, the newest last. */
export const diary = createCell<readonly { readonly id: number; readonly text: string }[]>([])

/** The server says something every five seconds. Where it has gone without a word, its stream is opened anew. */
const SILENT_MS = 16_000
let wordAtMs = 0
setInterval(() => {
  if (linked.get() !== 'open' || performance.now() - wordAtMs < SILENT_MS) return
  linked.set('broken')
  openStream()
}, 2000)

let source: EventSource | null = null
let counter = 0

export function openStream(): void {
  source?.close()
  source = new EventSource(API_ROOT + PATHS.events.path)
  wordAtMs = performance.now()
  source.onmessage = message => {
    wordAtMs = performance.now()
    take(JSON.parse(message.data as string) as PageEvent)
  }
  source.onerror = () => {
    linked.set('broken')
    // The server is there and turns the stream away: it may know this browser no more.
    if (source?.readyState === EventSource.CLOSED) tellReturn()
  }
}

/** Tries again, after a moment, where the server turned the stream away. The browser does all else. */
export function reopenStream(): void {
  if (source?.readyState !== EventSource.CLOSED) return
  setTimeout(() => {
    if (source?.readyState === EventSource.CLOSED) openStream()
  }, RETRY_MS)
}

const RETRY_MS = 1000
const returnListeners = new Set<() => void>()
const tellReturn = () => {
  for (const listener of [...returnListeners]) listener()
}

/** Tells whenever the server is back after it was away: things may have changed meanwhile. */
export function onReturn(listener: () => void): () => void {
  returnListeners.add(listener)
  return () => {
    returnListeners.delete(listener)
  }
}

for (const turned of ['focus', 'pointerdown', 'keydown', 'visibilitychange']) {
  addEventListener(
    turned,
    () => {
      if (linked.get() === 'resting' && !document.hidden) openStream()
    },
    { capture: true },
  )
}

addEventListener('pagehide', () => source?.close())
addEventListener('pageshow', event => {
  if (event.persisted) openStream()
})

/** True where this page drives the bench. */
export const drives = (view: BenchView | null): boolean =>
  view !== null && view.driver !== null && view.driver === streamName()

/** The same said twice, or once more with what led to it, stands there once: in the longer words. */
export function tell(text: string, tone: 'plain' | 'bad' = 'plain'): void {
  const id = ++counter
  const within = (part: string, whole: string) => whole.toLowerCase().includes(part.toLowerCase())
  const longer = told.get().find(one => within(text, one.text))?.text ?? text
  const others = told.get().filter(one => !within(one.text, longer))
  told.set([...others.slice(-3), { id, text: longer, tone }])
  setTimeout(
    () => told.set(told.get().filter(one => one.id !== id)),
    tone === 'bad' ? 15_000 : 8_000,
  )
}

function take(event: PageEvent): void {
  switch (event.type) {
    case 'hello': {
      const wasAway = linked.get() === 'broken' || linked.get() === 'resting'
      setStream(event.stream)
      linked.set('open')
      takeBench(event.bench)
      if (wasAway) tellReturn()
      break
    }
    case 'bench':
      takeBench(event.bench)
      break
    case 'live':
      takeLive(event.event)
      break
    case 'told':
      if (event.tone === 'warning') tell(event.text, 'bad')
      diary.set([...diary.get().slice(-5), { id: ++counter, text: event.text }])
      break
    case 'job':
      jobs.set(new Map(jobs.get()).set(event.job.id, event.job))
      break
    case 'beat':
      break
    case 'rest':
      source?.close()
      linked.set('resting')
      break
    case 'missed':
      traces.markGap()
      break
    default:
      event satisfies never
  }
}

function takeBench(view: BenchView): void {
  const { running } = view
  if (running?.durationSec != null) traces.expect(running.runId, running.durationSec)
  bench.set(view)
}

function takeLive(event: LiveEvent): void {
  switch (event.type) {
    case 'envelope':
      traces.add(event)
      break
    case 'run-started':
      traces.clear()
      break
    case 'run-ended':
      lastRun.set({ runId: event.runId, text: event.text })
      break
    case 'trip':
      tell(event.text, 'bad')
      break
    default:
      break
  }
}
