import { writeSync } from 'node:fs'
import { setTimeout as sleep } from 'node:timers/promises'
import { openRecorder } from '../../server/recorder/open-recorder.ts'
import { openStore } from '../../server/store/open-store.ts'
import { countBlock, newRun } from './sample-runs.ts'

/**
 * Logs three channels at 10 000 samples a second until it is killed: `recording-child.ts FILE`. Writes the
 * number of samples handed to the recorder, and when (ms since 1970), to standard output after every
 * handing over.
 */
const file = process.argv[2]!
const store = openStore(file, { now: Date.now })
const motorId = store.motors.ensure('M').id
store.close()
const recorder = await openRecorder({ file })
const log = await recorder.beginRun(newRun(motorId))
const start = performance.now()
for (let next = 0; ; ) {
  const due = Math.floor((performance.now() - start) * 10)
  for (; next + 50 <= due; next += 50) log.samples(countBlock(next, 50))
  writeSync(1, `${next} ${Date.now()}\n`)
  await sleep(2)
}
