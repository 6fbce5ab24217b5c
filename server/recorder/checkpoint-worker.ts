import { workerData } from 'node:worker_threads'
import { keepCheckpointed } from '../store/keep-checkpointed.ts'

/** A loss of power costs no more than this of a run, and the log stays short. */
const CHECKPOINT_MS = 500

const { file } = workerData as { file: string }
const keeper = keepCheckpointed(file)
setInterval(keeper.checkpoint, CHECKPOINT_MS)
