import { getPriority } from 'node:os'
import { Worker } from 'node:worker_threads'
import { expect, test } from 'vitest'

const MODULE = JSON.stringify(new URL('../../server/workers/give-way.ts', import.meta.url).href)
const LOADER = JSON.stringify(import.meta.resolve('tsx/esm/api'))

test.runIf(process.platform === 'linux')(
  'a thread that gives way stands behind the others of its process, which stay where they are',
  async () => {
    const before = getPriority()
    const worker = new Worker(
      `(async () => {
        (await import(${LOADER})).register()
        const { giveWay } = await import(${MODULE})
        const { readlinkSync } = require('node:fs')
        giveWay()
        const thread = Number(readlinkSync('/proc/thread-self').split('/').at(-1))
        require('node:worker_threads').parentPort.postMessage(require('node:os').getPriority(thread))
      })()`,
      { eval: true, execArgv: [] },
    )
    const priority = await new Promise((resolve, reject) => {
      worker.on('message', resolve)
      worker.on('error', reject)
    })
    await worker.terminate()
    expect(priority).toBe(Math.max(before, 10))
    expect(getPriority()).toBe(before)
  },
)
