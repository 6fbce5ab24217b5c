import { execFileSync } from 'node:child_process'
import { closeSync, constants, open, openSync } from 'node:fs'
import { join } from 'node:path'
import { promisify } from 'node:util'
import { expect, test } from 'vitest'
import { connectTo, startRig } from '../support/bench-at-work.ts'
import { coast, drive, IN_REAL_TIME, planOf, requestOf } from '../support/plans.ts'
import { scratchFolder } from '../support/scratch-store.ts'

const HOST_STOP_SEC = 0.1
/** As many files as the process can wait for at a time, and more. */
const FILES = 8
const HELD_MS = 180

test(
  'a stop reaches the rig within 100 ms though every file operation of the process hangs',
  IN_REAL_TIME,
  async () => {
    const rig = await startRig()
    const { session, recorder } = await connectTo(() => rig.open())
    const folder = scratchFolder()
    let stoppedSec = Number.NaN
    let released: Promise<void> | null = null
    const unlisten = session.listen(event => {
      if (event.type !== 'envelope' || event.toSec < 0.3 || released !== null) return
      stoppedSec = event.toSec
      released = hangFiles(folder)
      void session.stop('stop')
    })
    const outcome = await session.run(requestOf(planOf([coast(0.05), drive(6, 5)])))
    unlisten()
    await released
    expect(outcome).toMatchObject({ ending: 'stopped' })
    const off = recorder.runs[0]!.edges.findLast(edge => edge.state === 'coast')!
    expect(off.timeSec).toBeGreaterThan(stoppedSec)
    expect(off.timeSec - stoppedSec).toBeLessThan(HOST_STOP_SEC)
  },
)

/** Opens pipes that nobody writes to, which takes as long as a disk that does not answer; then lets go. */
async function hangFiles(folder: string): Promise<void> {
  const pipes = Array.from({ length: FILES }, (_, k) => join(folder, `pipe-${k}`))
  execFileSync('mkfifo', pipes)
  const opening = pipes.map(pipe => promisify(open)(pipe, 'r'))
  await new Promise(resolve => setTimeout(resolve, HELD_MS))
  const writers = pipes.map(pipe => openSync(pipe, constants.O_RDWR | constants.O_NONBLOCK))
  const readers = await Promise.all(opening)
  for (const descriptor of [...writers, ...readers]) closeSync(descriptor)
}
