import type { ReportJob } from '../jobs/job.ts'
import { type RefitOrders, refitMotors } from '../quality/refit-batch.ts'
import type { JobOutcome } from './job-desk.ts'

/** A batch to be identified anew, as read from the store. */
export interface RefitOrder {
  readonly orders: RefitOrders
  readonly referenceTemperatureCelsius: number
  readonly likeFitId: number | null
}

/** Does it, and says in one line what came of it. */
export async function refitted(
  storeFile: string,
  { orders, ...terms }: RefitOrder,
  report: ReportJob,
  signal: AbortSignal,
): Promise<JobOutcome> {
  const outcome = await refitMotors(storeFile, orders, {
    ...terms,
    report,
    signal,
  })
  const failed = outcome.failed.map(({ motor, text }) => `'${motor}' was not: ${text}`)
  return {
    resultId: null,
    text: [`${outcome.refitted} of ${orders.length} samples were identified anew`, ...failed].join(
      '; ',
    ),
  }
}
