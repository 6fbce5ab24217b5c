import { randomUUID } from 'node:crypto'
import { InputFault, StoppedFault } from '../../src/base/faults.ts'
import type { JobView } from '../../src/contract/http-motors.ts'
import type { ReportJob } from '../jobs/job.ts'
import { describeFault } from './http-fault.ts'

/** Work in worker threads that a page watches and may cancel. */
export interface JobDesk {
  start(order: JobOrder): JobView
  get(id: string): JobView
  cancel(id: string): JobView
  /** The fit of a motor that is being made now. */
  fitting(motorId: number): string | null
  /** Batches that are being identified anew now. */
  refits(): { batch: number; job: string }[]
  listen(listener: (job: JobView) => void): () => void
  close(): Promise<void>
}

export interface JobOrder {
  readonly kind: JobView['kind']
  readonly motorId?: number
  readonly batchId?: number
  readonly work: (report: ReportJob, signal: AbortSignal) => Promise<JobOutcome>
}

export interface JobOutcome {
  /** The number of what came of it: a fit, a run. */
  readonly resultId: number | null
  /** In words, where there is more to say than that it is done. */
  readonly text?: string
}

interface Entry {
  view: JobView
  readonly abort: AbortController
  finished: Promise<void>
}

const KEPT_JOBS = 100

export function createJobDesk(): JobDesk {
  const entries = new Map<string, Entry>()
  const listeners = new Set<(job: JobView) => void>()

  const find = (id: string): Entry => {
    const entry = entries.get(id)
    if (!entry) throw new InputFault('this job is not known; the server may have been started anew')
    return entry
  }
  const change = (entry: Entry, changes: Partial<JobView>) => {
    entry.view = { ...entry.view, ...changes }
    for (const listener of listeners) listener(entry.view)
  }

  return {
    start({ kind, motorId, batchId, work }) {
      const entry: Entry = {
        view: {
          id: randomUUID(),
          kind,
          motorId: motorId ?? null,
          batchId: batchId ?? null,
          state: 'working',
          progress: 0,
          text: 'starting',
          resultId: null,
        },
        abort: new AbortController(),
        finished: Promise.resolve(),
      }
      entries.set(entry.view.id, entry)
      for (const id of [...entries.keys()].slice(0, -KEPT_JOBS)) entries.delete(id)
      const report: ReportJob = ({ fraction, text }) => change(entry, { progress: fraction, text })
      entry.finished = work(report, entry.abort.signal).then(
        ({ resultId, text = 'done' }) =>
          change(entry, { state: 'done', progress: 1, text, resultId }),
        error =>
          change(entry, {
            state: error instanceof StoppedFault ? 'cancelled' : 'failed',
            text: describeFault(error).body.error.text,
          }),
      )
      return entry.view
    },
    get: id => find(id).view,
    cancel(id) {
      const entry = find(id)
      entry.abort.abort(new StoppedFault('cancelled'))
      return entry.view
    },
    fitting(motorId) {
      const found = [...entries.values()].find(
        ({ view }) => view.kind === 'fit' && view.motorId === motorId && view.state === 'working',
      )
      return found?.view.id ?? null
    },
    refits: () =>
      [...entries.values()].flatMap(({ view }) =>
        view.kind === 'refit' && view.batchId !== null && view.state === 'working'
          ? [{ batch: view.batchId, job: view.id }]
          : [],
      ),
    listen(listener) {
      listeners.add(listener)
      return () => listeners.delete(listener)
    },
    async close() {
      for (const entry of entries.values()) entry.abort.abort(new StoppedFault('the server stops'))
      await Promise.all([...entries.values()].map(entry => entry.finished))
    },
  }
}
