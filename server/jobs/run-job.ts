import { EXIT_CODE, InputFault, StoppedFault, WorkFault } from '../../src/base/faults.ts'
import { spawnWorker } from '../workers/spawn.ts'
import type { JobName, Jobs, ReportJob } from './job.ts'
import type { JobMessage } from './job-worker.ts'

export interface JobOptions {
  readonly onReport?: ReportJob
  /** Aborting ends the worker at once; what it had not committed to the store is gone. */
  readonly signal?: AbortSignal
}

/**
 * Runs a job in a worker of its own. Rejects with the fault that the job ended with, or with a
 * `StoppedFault` when it was cancelled.
 */
export function runJob<Name extends JobName>(
  name: Name,
  input: Jobs[Name]['input'],
  options: JobOptions = {},
): Promise<Jobs[Name]['output']> {
  const { signal, onReport } = options
  if (signal?.aborted) return Promise.reject(new StoppedFault(`${name} was not started: stopped`))
  const worker = spawnWorker('job-worker', { workerData: { name, input } })
  return new Promise((resolve, reject) => {
    const cancel = () => {
      reject(new StoppedFault(`${name} was stopped`))
      void worker.terminate()
    }
    signal?.addEventListener('abort', cancel, { once: true })
    worker.on('message', (message: JobMessage) => {
      if (message.type === 'report') onReport?.(message)
      else if (message.type === 'done') resolve(message.output as Jobs[Name]['output'])
      else reject(asFault(message))
    })
    worker.on('error', error =>
      reject(new WorkFault(`${name} failed: ${error.message}`, { cause: error })),
    )
    worker.on('exit', () => {
      signal?.removeEventListener('abort', cancel)
      // Settled already unless the worker died without a word.
      reject(new WorkFault(`${name} ended without a result`))
    })
  })
}

/** Errors lose their class on the way between threads; the exit code tells which it was. */
function asFault(message: Extract<JobMessage, { type: 'failed' }>): Error {
  if (message.exitCode === EXIT_CODE.badInput) return new InputFault(message.message)
  if (message.exitCode === EXIT_CODE.stopped) return new StoppedFault(message.message)
  return new WorkFault(message.message, { cause: message.stack })
}
