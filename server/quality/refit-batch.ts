import { availableParallelism } from 'node:os'
import { runJob } from '../jobs/run-job.ts'
import type { ReportJob } from '../jobs/job.ts'
import type { RefitInput, RefitOutput } from '../jobs/refit-job.ts'
import type { LimitSet } from '../../src/records/limits.ts'
import type { Store } from '../store/store.ts'

/** What the reference temperature and the start of a refit are by the limits in force, if there are any. */
export function refitTerms(
  store: Store,
  limits: Pick<LimitSet, 'referenceMotorIds' | 'referenceTemperatureCelsius'> | null,
): { referenceTemperatureCelsius: number; likeFitId: number | null } {
  const fits = limits?.referenceMotorIds.map(id => store.fits.latest(id)) ?? []
  return {
    referenceTemperatureCelsius: limits?.referenceTemperatureCelsius ?? REFERENCE_CELSIUS,
    likeFitId: fits.find(fit => fit !== null)?.id ?? null,
  }
}

/** Where no limits say at which temperature. */
const REFERENCE_CELSIUS = 20

export interface RefitOptions {
  readonly referenceTemperatureCelsius: number
  readonly likeFitId: number | null
  readonly report: ReportJob
  readonly signal: AbortSignal
  /** Workers at a time; else one a core. */
  readonly workers?: number
}

export type RefitOrders = RefitInput['orders']

/** The runs of each motor's latest identification, or all measuring runs where it has none. */
export function refitOrders(store: Store, batchName: string): RefitOrders {
  return store.batches.named(batchName).motorIds.map(id => {
    const runIds = store.fits.latest(id)?.runIds ?? []
    return { motor: store.motors.get(id).name, runIds: runIds.length > 0 ? runIds : null }
  })
}

export const refitBatch = (
  store: Store,
  batchName: string,
  options: RefitOptions,
): Promise<RefitOutput> => refitMotors(store.file, refitOrders(store, batchName), options)

/**
 * Identifies every motor of a batch anew from its recordings. One worker a core, the motors dealt out between
 * them. Cancelling ends the workers at once; what was refitted until then stays.
 */
export async function refitMotors(
  storeFile: string,
  orders: RefitOrders,
  options: RefitOptions,
): Promise<RefitOutput> {
  const { report, referenceTemperatureCelsius, likeFitId } = options
  const workers = Math.min(orders.length, options.workers ?? Math.max(2, availableParallelism()))
  // One that fails ends the others too.
  const abort = new AbortController()
  const signal = AbortSignal.any([options.signal, abort.signal])
  let done = 0
  const onReport: ReportJob = () => {
    done++
    const text = `${done} of ${orders.length} samples identified anew`
    report({ fraction: done / orders.length, text })
  }
  try {
    const outputs = await Promise.all(
      Array.from({ length: workers }, (_, worker) =>
        runJob(
          'refit',
          {
            storeFile,
            referenceTemperatureCelsius,
            likeFitId,
            orders: orders.filter((__, index) => index % workers === worker),
          },
          { signal, onReport },
        ),
      ),
    )
    return {
      refitted: outputs.reduce((sum, output) => sum + output.refitted, 0),
      failed: outputs.flatMap(output => output.failed),
    }
  } finally {
    abort.abort()
  }
}
