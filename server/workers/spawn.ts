import { Worker, type WorkerOptions } from 'node:worker_threads'

/**
 * Every worker thread of the program: its name and its source, relative to this folder. The build
 * bundles each to a file of that name beside the program's own.
 */
export const WORKER_SOURCES = {
  'recorder-worker': '../recorder/recorder-worker.ts',
  'checkpoint-worker': '../recorder/checkpoint-worker.ts',
  'job-worker': '../jobs/job-worker.ts',
  'store-worker': '../http/store-worker.ts',
  'practice-rig-worker': '../rig-host/practice-rig-worker.ts',
} as const satisfies Record<string, `${string}.ts`>

export type WorkerName = keyof typeof WORKER_SOURCES

/** Starts a worker from the built bundle, or from its TypeScript source during development and tests. */
export function spawnWorker(name: WorkerName, options: WorkerOptions = {}): Worker {
  if (!import.meta.url.endsWith('.ts')) {
    return new Worker(new URL(`./${name}.mjs`, import.meta.url), options)
  }
  // A loader given on the command line does not reach into worker threads on every version of Node.
  const loader = JSON.stringify(import.meta.resolve('tsx/esm/api'))
  const source = JSON.stringify(new URL(WORKER_SOURCES[name], import.meta.url).href)
  return new Worker(`import(${loader}).then(tsx => { tsx.register(); return import(${source}) })`, {
    ...options,
    eval: true,
    execArgv: [],
  })
}
