import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { seededUniform } from '../../src/base/random.ts'
import { killRecording } from '../support/kill-recording.ts'

/**
 * Kills a logging process at 100 random moments within its first second and a half and says what was
 * missing: `npx tsx test/studies/kill-recorder.ts [KILLS] [SEED]`.
 */
const kills = Number(process.argv[2] ?? 100)
const uniform = seededUniform(Number(process.argv[3] ?? 1))
const missing: number[] = []
for (let i = 0; i < kills; i++) {
  const folder = mkdtempSync(join(tmpdir(), 'rotorfit-kill-'))
  const { store, missingMs, stored } = await killRecording(
    join(folder, 'store.rotorfit'),
    1500 * uniform(),
  )
  const run = store.runs.list()[0]
  if (run?.ending !== 'interrupted' || store.runs.recording(run.id).sampleCount !== stored) {
    throw new Error(`kill ${i}: the run is ${run?.ending}`)
  }
  missing.push(missingMs)
  store.close()
  rmSync(folder, { recursive: true })
}
missing.sort((a, b) => a - b)
const quantile = (p: number) => missing[Math.min(kills - 1, Math.floor(p * kills))]!
console.log(
  `${kills} kills: missing ms median ${quantile(0.5)}, 95 % ${quantile(0.95)}, most ${quantile(1)}; over 250 ms: ${missing.filter(ms => ms > 250).length}`,
)
