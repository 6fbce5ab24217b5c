import { parentPort, workerData } from 'node:worker_threads'
import { openStore } from '../store/open-store.ts'
import type { FromWorker, ToWorker } from './messages.ts'
import { failed, recorderDesk } from './recorder-desk.ts'

/** How long a commit waits for another program that is writing, before it is said and tried again. */
const BUSY_MS = 2000

/**
 * The recorder's own thread. Every commit is forced to the medium (`power-loss`): on a bench a supply
 * that trips may take the computer along, and waiting for the medium costs nothing here, where nothing
 * else waits.
 */
function openDesk(): (message: ToWorker) => FromWorker {
  const { file } = workerData as { file: string }
  return recorderDesk(openStore(file, { now: Date.now, durability: 'power-loss', busyMs: BUSY_MS }))
}

const reply = (message: FromWorker) => parentPort?.postMessage(message)

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
