import type { RunFacts } from '../session/run-log.ts'
import type { NewRun } from '../store/run-record.ts'
import { spawnWorker } from '../workers/spawn.ts'
import { recordedRun } from './recorded-run.ts'
import type { RecordedRun, Recorder, RecorderOptions } from './recorder.ts'
import { workerLine } from './worker-line.ts'

export const DEFAULT_RECORDER_OPTIONS = {
  /** A fifth of the 250 ms that a crash may cost: the rest is for a slow disk on a busy machine. */
  commitMs: 50,
  /** Two minutes of three channels at 10 000 samples a second. */
  queueLimitBytes: 8 * 1024 * 1024,
} as const

/** Starts the recorder's workers. Rejects with the store's fault where it cannot be opened. */
export async function openRecorder(given: RecorderOptions): Promise<Recorder> {
  const options = { ...DEFAULT_RECORDER_OPTIONS, onHealth: () => {}, ...given }
  const workerData = { file: options.file }
  const worker = spawnWorker('recorder-worker', { workerData })
  const line = workerLine(worker)
  try {
    await line.ready
  } catch (error) {
    await worker.terminate()
    throw error
  }
  const checkpoints = spawnWorker('checkpoint-worker', { workerData })
  // Without them the log grows until the store is closed; no sample is lost by that.
  checkpoints.on('error', () => {})
  let current: RecordedRun | null = null

  const beginRun = async (run: NewRun): Promise<RecordedRun> => {
    if (current) throw new RangeError(`run ${current.runId} is still being recorded`)
    const answer = await line.ask({ type: 'begin', run })
    if (answer.type !== 'begun') throw new RangeError(`answer ${answer.type} to begin`)
    current = recordedRun(line, answer.runId, {
      ...options,
      channels: run.channels.length,
      onFinished: () => {
        current = null
      },
    })
    return current
  }

  const closeDown = async () => {
    try {
      await current?.finish('stopped', 'the recorder was closed during the run', null)
      await line.ask({ type: 'close' })
    } finally {
      await Promise.all([worker.terminate(), checkpoints.terminate()])
    }
  }
  let closing: Promise<void> | null = null

  return {
    beginRun,
    begin: facts => beginRun(newRunOf(facts)),
    get current() {
      return current
    },
    close: () => {
      closing ??= closeDown()
      return closing
    },
  }
}

/** The bench and its fixture are added by the worker, which knows the store. */
function newRunOf({ motorId, plan, rig }: RunFacts): NewRun {
  const { channels, model, serialNumber, firmware, protocolVersion, simulated } = rig
  return {
    motorId,
    kind: plan.kind,
    origin: 'rig',
    conditions: plan.conditions,
    benchId: null,
    rig: { model, serialNumber, firmware, protocolVersion, simulated },
    channels,
    rateHz: plan.rateHz,
    plan,
    source: null,
  }
}
