import type { ImportInput, ImportOutput } from './import-job.ts'
import type { FitInput, FitOutput } from './fit-job.ts'
import type { RefitInput, RefitOutput } from './refit-job.ts'

/**
 * Work too heavy for the thread that keeps a rig alive: fits, imports, reports. A job is a plain
 * function of a message; `runJob` in run-job.ts starts it in a worker of its own, with progress and
 * cancel. It opens the store by itself.
 */
export interface JobReport {
  /** Share done, 0 to 1. */
  readonly fraction: number
  readonly text: string
}

export type ReportJob = (report: JobReport) => void

/** Every job by name, with what goes in and what comes out; both must survive a structured clone. */
export interface Jobs {
  fit: { input: FitInput; output: FitOutput }
  import: { input: ImportInput; output: ImportOutput }
  refit: { input: RefitInput; output: RefitOutput }
}

export type JobName = keyof Jobs

export type JobFunction<Name extends JobName> = (
  input: Jobs[Name]['input'],
  report: ReportJob,
) => Promise<Jobs[Name]['output']>
