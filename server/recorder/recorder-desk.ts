import { InputFault } from '../../src/base/faults.ts'
import type { NewRun, RunWriter } from '../store/run-record.ts'
import type { Store } from '../store/store.ts'
import type { FromWorker, LogEntry, ToWorker } from './messages.ts'

/** Answers the recorder's messages with a store: one run at a time. */
export function recorderDesk(store: Store): (message: ToWorker) => FromWorker {
  let writer: RunWriter | null = null
  /** Ends of runs that the disk refused; tried again before the next run begins. */
  let unfinished: (() => void)[] = []

  const settleUnfinished = () => {
    while (unfinished[0]) {
      unfinished[0]()
      unfinished = unfinished.slice(1)
    }
  }
  const running = (entries: readonly LogEntry[]): RunWriter => {
    if (!writer) throw new RangeError('no run is being written')
    for (const entry of entries) enter(writer, entry)
    return writer
  }
  const act = (message: ToWorker): FromWorker => {
    switch (message.type) {
      case 'begin':
        settleUnfinished()
        writer = store.runs.begin(onItsBench(store, message.run))
        return { type: 'begun', runId: writer.runId }
      case 'store':
        running(message.entries).commit()
        return { type: 'stored', spare: spareOf(message.entries) }
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
        return { type: 'stored', spare: spareOf(message.entries) }
      }
      case 'close':
        try {
          settleUnfinished()
        } finally {
          store.close()
        }
        return { type: 'closed' }
      default:
        return message satisfies never
    }
  }
  return message => {
    try {
      return act(message)
    } catch (error) {
      return failed(error)
    }
  }
}

export function failed(error: unknown): FromWorker {
  const text = error instanceof Error ? error.message : String(error)
  return { type: 'failed', text, isBadInput: error instanceof InputFault }
}

/** The writer has copied what it keeps. */
function spareOf(entries: readonly LogEntry[]): ArrayBuffer[] {
  return entries.flatMap(entry =>
    entry.type === 'samples' ? [entry.block.counts.buffer as ArrayBuffer] : [],
  )
}

/** The bench is the one that the rig belongs to; its fixture is on the shaft unless the run says otherwise. */
function onItsBench(store: Store, run: NewRun): NewRun {
  const bench = run.rig ? store.benches.ofRig(run.rig.serialNumber) : null
  const { conditions } = run
  return {
    ...run,
    benchId: run.benchId ?? bench?.id ?? null,
    conditions: { ...conditions, fixture: conditions.fixture ?? bench?.fixture ?? null },
  }
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
