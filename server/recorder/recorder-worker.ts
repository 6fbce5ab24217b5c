import { parentPort, workerData } from 'node:worker_threads'
import { InputFault } from '../../src/base/faults.ts'
import { openStore } from '../store/open-store.ts'
import type { NewRun, RunWriter } from '../store/run-record.ts'
import type { Store } from '../store/store.ts'
import type { FromWorker, LogEntry, ToWorker } from './messages.ts'

/**
 * The recorder's own thread: one store, one run at a time. Every commit is forced to the medium
 * (`power-loss`): on a bench a supply that trips may take the computer along, and waiting for the
 * medium costs nothing here, where nothing else waits.
 */
/** How long a commit waits for another program that is writing, before it is said and tried again. */
const BUSY_MS = 2000

const { file } = workerData as { file: string }
let store: Store | null = null
let writer: RunWriter | null = null
/** Ends of runs that the disk refused; tried again before the next run begins. */
let unfinished: (() => void)[] = []

function settleUnfinished(): void {
  while (unfinished[0]) {
    unfinished[0]()
    unfinished = unfinished.slice(1)
  }
}

function begin(run: NewRun): number {
  if (!store) throw new RangeError('the store is not open')
  settleUnfinished()
  const bench = run.rig ? store.benches.ofRig(run.rig.serialNumber) : null
  const { conditions } = run
  writer = store.runs.begin({
    ...run,
    benchId: run.benchId ?? bench?.id ?? null,
    conditions: { ...conditions, fixture: conditions.fixture ?? bench?.fixture ?? null },
  })
  return writer.runId
}

function enter(run: RunWriter, entry: LogEntry): void {
  switch (entry.type) {
    case 'samples':
      run.samples(entry.block)
      break
    case 'columns':
      run.columns(entry.piece)
      break
    case 'edge':
      run.edge(entry.edge)
      break
    case 'note':
      run.note(entry.note)
      break
    case 'rejected':
      run.rejected(entry.line)
      break
    case 'lost':
      run.lost(entry.samples, entry.where)
      break
    default:
      entry satisfies never
  }
}

function running(entries: readonly LogEntry[]): RunWriter {
  if (!writer) throw new RangeError('no run is being written')
  for (const entry of entries) enter(writer, entry)
  return writer
}

function act(message: ToWorker): FromWorker {
  switch (message.type) {
    case 'begin':
      return { type: 'begun', runId: begin(message.run) }
    case 'store':
      running(message.entries).commit()
      return { type: 'stored' }
    case 'finish': {
      const run = running(message.entries)
      const { ending, text, counters } = message
      const finish = () => run.finish(ending, text, counters)
      writer = null
      try {
        finish()
      } catch (error) {
        unfinished.push(finish)
        throw error
      }
      return { type: 'stored' }
    }
    case 'close':
      try {
        settleUnfinished()
      } finally {
        store?.close()
      }
      return { type: 'closed' }
    default:
      return message satisfies never
  }
}

function answered(work: () => FromWorker): FromWorker {
  try {
    return work()
  } catch (error) {
    const text = error instanceof Error ? error.message : String(error)
    return { type: 'failed', text, isBadInput: error instanceof InputFault }
  }
}

const reply = (message: FromWorker) => parentPort?.postMessage(message)

reply(
  answered(() => {
    store = openStore(file, { now: Date.now, durability: 'power-loss', busyMs: BUSY_MS })
    return { type: 'ready' }
  }),
)
parentPort?.on('message', (message: ToWorker) => {
  reply(answered(() => act(message)))
  if (message.type === 'close') parentPort?.close()
})
