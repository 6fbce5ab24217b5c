import { parentPort, workerData } from 'node:worker_threads'
import { openStore } from '../store/open-store.ts'
import type { FromWorker, ToWorker } from './messages.ts'
import { failed, recorderDesk } from './recorder-desk.ts'

/** How long a commit waits for another program that is writing, before it is said and tried again. */
const BUSY_MS = 2000

/**
 * The recorder's own thread. A commit is in the log when it returns and outlives this process; that it
 * reaches the medium, and outlives a supply that trips, is the work of `checkpoint-worker.ts`, so that a
 * slow disk does not hold up the next commit.
 */
function openDesk(): (message: ToWorker) => FromWorker {
  const { file } = workerData as { file: string }
  return recorderDesk(openStore(file, { now: Date.now, busyMs: BUSY_MS, checkpoints: 'elsewhere' }))
}

const reply = (message: FromWorker) =>
  parentPort?.postMessage(message, message.type === 'stored' ? message.spare : [])

try {
  const answer = openDesk()
  reply({ type: 'ready' })
  parentPort?.on('message', (message: ToWorker) => {
    reply(answer(message))
    if (message.type === 'close') parentPort?.close()
  })
} catch (error) {
  reply(failed(error))
}
