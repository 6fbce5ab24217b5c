import { parentPort, workerData } from 'node:worker_threads'
import { EXIT_CODE, InputFault, StoppedFault } from '../../src/base/faults.ts'
import { giveWay } from '../workers/give-way.ts'
import { fitJob } from './fit-job.ts'
import { importJob } from './import-job.ts'
import { refitJob } from './refit-job.ts'
import type { JobFunction, JobName, ReportJob } from './job.ts'

const JOBS: { readonly [Name in JobName]: JobFunction<Name> } = {
  fit: fitJob,
  import: importJob,
  refit: refitJob,
}

/** What the worker sends: progress as it goes, then one outcome. */
export type JobMessage =
  | { readonly type: 'report'; readonly fraction: number; readonly text: string }
  | { readonly type: 'done'; readonly output: unknown }
  | {
      readonly type: 'failed'
      readonly exitCode: number
      readonly message: string
      readonly stack: string
    }

const post = (message: JobMessage) => parentPort?.postMessage(message)
const report: ReportJob = r => post({ type: 'report', ...r })

giveWay()
const { name, input } = workerData as { name: JobName; input: unknown }
try {
  const job = JOBS[name] as (input: unknown, report: ReportJob) => Promise<unknown>
  post({ type: 'done', output: await job(input, report) })
} catch (error) {
  const exitCode =
    error instanceof InputFault
      ? EXIT_CODE.badInput
      : error instanceof StoppedFault
        ? EXIT_CODE.stopped
        : EXIT_CODE.failed
  const { message, stack } = error instanceof Error ? error : new Error(String(error))
  post({ type: 'failed', exitCode, message, stack: stack ?? '' })
}
