import { WorkFault } from '../../src/base/faults.ts'
import { BlockOrder } from '../store/block-order.ts'
import { EntryQueue } from './entry-queue.ts'
import { healthOf, stateOf } from './health.ts'
import type { LogEntry, ToWorker } from './messages.ts'
import type { RecordedRun, RecorderHealth } from './recorder.ts'
import { SpareMemory } from './spare-memory.ts'
import type { WorkerLine } from './worker-line.ts'

export interface RecordedRunOptions {
  readonly channels: number
  readonly commitMs: number
  readonly queueLimitBytes: number
  readonly onHealth: (health: RecorderHealth) => void
  /** The run takes nothing more; its end is on the way, and whatever is asked of the worker comes after it. */
  readonly onFinished: () => void
}

/** What was refused is tried again after this long. */
const RETRY_MS = 1000

/** With nothing to store, the run still shows that its logger lives. */
const BEAT_MS = 10_000

/**
 * One run on the main thread. One batch is on its way to the worker at a time; what comes meanwhile
 * gathers into the next, so that a slow disk gets fewer and larger transactions by itself.
 */
export function recordedRun(
  line: WorkerLine,
  runId: number,
  options: RecordedRunOptions,
): RecordedRun {
  const spare = new SpareMemory()
  const queue = new EntryQueue(2 * options.queueLimitBytes, spare)
  const order = new BlockOrder(options.channels)
  /** With the worker, but not known to be stored. */
  const away = { bytes: 0, samples: 0 }
  const counts = { stored: 0, lost: 0 }
  let isSending = false
  let isResting = false
  let isFinished = false
  let isLosing = false
  let isBehind = false
  let failure: string | null = null
  let shown: RecorderHealth['state'] = 'keeping-up'

  function currentHealth(): RecorderHealth {
    return healthOf({
      runId,
      failure,
      isLosing,
      isBehind,
      queuedBytes: queue.bytes + away.bytes,
      samplesStored: counts.stored,
      samplesWaiting: queue.samples + away.samples,
      samplesLost: counts.lost,
    })
  }
  const showHealth = () => {
    // Behind until half of the way back, so that it is not said again and again.
    const bearable = options.queueLimitBytes / (isBehind ? 2 : 1)
    isBehind = queue.bytes + away.bytes > bearable
    const state = stateOf({ failure, isLosing, isBehind })
    if (state === shown) return
    shown = state
    options.onHealth(currentHealth())
  }

  async function send(
    wrap: (entries: readonly LogEntry[]) => ToWorker,
    afterwards: () => void,
  ): Promise<void> {
    const { entries, bytes, samples, transfer } = queue.take()
    away.bytes += bytes
    away.samples += samples
    try {
      const answer = await line.ask(wrap(entries), transfer)
      if (answer.type === 'stored') spare.put(answer.spare)
      counts.stored += away.samples
      away.bytes = 0
      away.samples = 0
      failure = null
      isLosing = false
    } catch (error) {
      failure = (error as Error).message
      throw error
    } finally {
      afterwards()
      showHealth()
    }
  }

  function pump(): void {
    if (isSending || isResting || isFinished) return
    if (queue.isEmpty && failure === null) return
    sendNow()
  }
  function sendNow(): void {
    isSending = true
    isResting = true
    setTimeout(
      () => {
        isResting = false
        pump()
      },
      failure === null ? options.commitMs : RETRY_MS,
    )
    send(
      entries => ({ type: 'store', entries }),
      () => {
        isSending = false
      },
    ).then(pump, pump)
  }
  const beat = setInterval(() => {
    if (!isSending && !isResting) sendNow()
  }, BEAT_MS)
  beat.unref()

  function push(entry: LogEntry): void {
    if (isFinished) throw new RangeError(`run ${runId} is finished; it takes nothing more`)
    const lost = queue.push(entry, away.bytes)
    counts.lost += lost
    if (lost > 0) isLosing = true
    showHealth()
    pump()
  }

  return {
    runId,
    get health() {
      return currentHealth()
    },
    samples: block => {
      order.accept(block)
      // Copied: the caller may use its array again.
      push({ type: 'samples', block })
    },
    columns: piece => push({ type: 'columns', piece: structuredClone(piece) }),
    edge: edge => push({ type: 'edge', edge }),
    note: (timeSec, code, text) => push({ type: 'note', note: { timeSec, code, text } }),
    rejected: (raw, reason) => push({ type: 'rejected', line: { raw, reason } }),
    lost: (samples, where) => push({ type: 'lost', samples, where }),
    finish: async (ending, text, counters) => {
      if (isFinished) throw new RangeError(`run ${runId} is finished already`)
      isFinished = true
      clearInterval(beat)
      options.onFinished()
      try {
        await send(
          entries => ({ type: 'finish', entries, ending, text, counters }),
          () => {},
        )
      } catch {
        throw new WorkFault(currentHealth().text)
      }
    },
  }
}
