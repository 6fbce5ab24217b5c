import { availableParallelism } from 'node:os'
import { InputFault } from '../../src/base/faults.ts'
import { runJob } from '../jobs/run-job.ts'
import type { ReportJob } from '../jobs/job.ts'
import type { Store } from '../store/store.ts'

/** Fits that were made from nothing stored cannot be made again. */
interface Refit {
  readonly motor: string
  readonly runIds: readonly number[]
}

export interface RefitOutcome {
  readonly refitted: number
  /** Motors whose runs could not be fitted, and why; their earlier identification stays. */
  readonly failed: readonly { readonly motor: string; readonly text: string }[]
}

export interface RefitOptions {
  readonly referenceTemperatureCelsius: number
  readonly report: ReportJob
  readonly signal: AbortSignal
  /** Workers at a time; else one a core. */
  readonly workers?: number
}

/**
 * Identifies every motor of a batch anew from its recordings: the runs of its latest identification, or all
 * measuring runs where it has none. One worker a motor, as many at a time as there are cores. Cancelling ends
 * the workers at once; what was refitted until then stays.
 */
export async function refitBatch(
  store: Store,
  batchName: string,
  options: RefitOptions,
): Promise<RefitOutcome> {
  const { report, signal } = options
  const orders = store.batches.named(batchName).motorIds.map((id): Refit => {
    const latest = store.fits.latest(id)
    return { motor: store.motors.get(id).name, runIds: latest?.runIds ?? [] }
  })
  const waiting = [...orders]
  const failed: { motor: string; text: string }[] = []
  let done = 0
  // One that ends for another reason than its data ends the others too.
  const abort = new AbortController()
  const stop = () => abort.abort()
  signal.addEventListener('abort', stop, { once: true })
  if (signal.aborted) stop()
  const work = async () => {
    for (let order = waiting.shift(); order; order = waiting.shift()) {
      const { motor, runIds } = order
      try {
        await runJob(
          'fit',
          {
            storeFile: store.file,
            motor,
            runIds: runIds.length > 0 ? runIds : null,
            settings: {
              fixed: {},
              freed: [],
              referenceTemperatureCelsius: options.referenceTemperatureCelsius,
            },
          },
          { signal: abort.signal },
        )
      } catch (error) {
        if (!(error instanceof InputFault)) {
          stop()
          throw error
        }
        failed.push({ motor, text: error.message })
      }
      done++
      report({
        fraction: done / orders.length,
        text: `${done} of ${orders.length} samples identified anew`,
      })
    }
  }
  const workers = Math.min(orders.length, options.workers ?? Math.max(2, availableParallelism()))
  try {
    await Promise.all(Array.from({ length: workers }, work))
  } finally {
    signal.removeEventListener('abort', stop)
  }
  return { refitted: done - failed.length, failed }
}
