import { InputFault } from '../../src/base/faults.ts'
import { fitJob } from './fit-job.ts'
import type { ReportJob } from './job.ts'

export interface RefitInput {
  readonly storeFile: string
  readonly referenceTemperatureCelsius: number
  /** Identification of the type's reference, beside which every search begins; null where there is none. */
  readonly likeFitId: number | null
  /** Motors and the runs to take; null for all measuring runs. */
  readonly orders: readonly { readonly motor: string; readonly runIds: readonly number[] | null }[]
}

export interface RefitOutput {
  readonly refitted: number
  /** Motors whose runs could not be fitted, and why; their earlier identification stays. */
  readonly failed: readonly { readonly motor: string; readonly text: string }[]
}

/** Identifies several motors one after the other: one start of a worker for many fits. Reports each as it is done. */
export async function refitJob(input: RefitInput, report: ReportJob): Promise<RefitOutput> {
  const { storeFile, orders, referenceTemperatureCelsius, likeFitId } = input
  const failed: { motor: string; text: string }[] = []
  for (const [index, { motor, runIds }] of orders.entries()) {
    try {
      const settings = { fixed: {}, freed: [], referenceTemperatureCelsius }
      await fitJob({ storeFile, motor, runIds, settings, likeFitId }, () => {})
    } catch (error) {
      if (!(error instanceof InputFault)) throw error
      failed.push({ motor, text: error.message })
    }
    report({ fraction: (index + 1) / orders.length, text: motor })
  }
  return { refitted: orders.length - failed.length, failed }
}
