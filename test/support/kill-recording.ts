import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { createRequire } from 'node:module'
import { fileURLToPath, pathToFileURL } from 'node:url'
import { openStore } from '../../server/store/open-store.ts'
import type { Store } from '../../server/store/store.ts'

export interface KilledRun {
  /** Opened after the kill; the caller closes it. */
  readonly store: Store
  /** Handed to the recorder before the kill, as far as was heard. */
  readonly handedOver: number
  readonly stored: number
  /** How long before the kill the oldest sample that is missing had been handed over. */
  readonly missingMs: number
}

const loader = pathToFileURL(createRequire(import.meta.url).resolve('tsx')).href
const child = fileURLToPath(new URL('./recording-child.ts', import.meta.url))

/** Starts a process that logs into `file`. */
export function startRecording(file: string) {
  const logger = spawn(process.execPath, ['--import', loader, child, file], {
    stdio: ['ignore', 'pipe', 'inherit'],
  })
  let heard = ''
  logger.stdout.setEncoding('utf8').on('data', (text: string) => {
    heard += text
  })
  return {
    process: logger,
    /** How many samples had been handed over, at which moments. */
    get handedOver(): { samples: number; atMs: number }[] {
      const lines = heard.split('\n').slice(0, -1)
      return lines.map(line => {
        const [samples, atMs] = line.split(' ').map(Number)
        return { samples: samples!, atMs: atMs! }
      })
    },
    /** Resolves when the first samples were handed over. */
    begun: once(logger.stdout, 'data'),
  }
}

/** Lets a process log for a while, kills it without warning, and looks at what is left. */
export async function killRecording(file: string, afterMs: number): Promise<KilledRun> {
  const logger = startRecording(file)
  await logger.begun
  await new Promise(resolve => setTimeout(resolve, afterMs))
  logger.process.kill('SIGKILL')
  const killedMs = Date.now()
  await once(logger.process, 'close')
  const store = openStore(file, { now: Date.now })
  const [run] = store.runs.list()
  const stored = run?.sampleCount ?? 0
  const { handedOver } = logger
  const firstMissing = handedOver.find(({ samples }) => samples > stored)
  return {
    store,
    handedOver: handedOver.at(-1)?.samples ?? 0,
    stored,
    missingMs: firstMissing ? Math.max(0, killedMs - firstMissing.atMs) : 0,
  }
}
