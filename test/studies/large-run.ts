import { mkdtempSync, rmSync, statSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { openStore } from '../../server/store/open-store.ts'
import { countBlock, newRun } from '../support/sample-runs.ts'

/**
 * Stores a long run of three channels as a recorder does and says what it takes in space and time to
 * log it and to see it: `npx tsx test/studies/large-run.ts [SAMPLES]`.
 */
const samples = Number(process.argv[2] ?? 1e7)
const folder = mkdtempSync(join(tmpdir(), 'rotorfit-large-'))
const file = join(folder, 'store.rotorfit')
const timed = <T>(what: string, work: () => T): T => {
  const start = performance.now()
  const result = work()
  console.log(`${what}: ${(performance.now() - start).toFixed(0)} ms`)
  return result
}

const store = openStore(file, { now: Date.now })
const writer = store.runs.begin(newRun(store.motors.add({ name: 'M' }).id))
timed(`log ${samples} samples, a commit every 1000`, () => {
  for (let first = 0; first < samples; first += 100) {
    writer.samples(countBlock(first, 100))
    if (first % 1000 === 0) writer.commit()
  }
})
timed('finish', () => writer.finish('complete', '', null))
store.close()
console.log(`stored bytes a byte of counts: ${(statSync(file).size / (samples * 6)).toFixed(3)}`)

const again = timed('open the store', () => openStore(file, { now: Date.now }))
const { runs } = again
const toSec = runs.get(writer.runId).durationSec!
for (const quantity of ['voltage', 'current', 'speed'] as const) {
  timed(`first picture of ${quantity}, 2000 points`, () =>
    runs.overview(writer.runId, quantity, 0, toSec, 2000),
  )
}
timed('zoom to a tenth', () => runs.overview(writer.runId, 'current', 0, toSec / 10, 2000))
timed('zoom to a thousandth', () => runs.overview(writer.runId, 'current', 0, toSec / 1000, 2000))
timed('read everything', () => runs.recording(writer.runId))
timed('hash of the inputs', () => runs.inputsHash([writer.runId]))
again.close()
rmSync(folder, { recursive: true })
