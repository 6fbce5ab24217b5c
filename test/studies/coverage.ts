/**
 * Do the 95 % intervals hold the truth 95 times in 100, and how near does the error come to the Cramér–Rao bound?
 *   npx tsx test/studies/coverage.ts model [repetitions, 4000] [seed of the first, 1]
 * repeats the tests of one motor that is exactly the fit's own model, with white noise on every channel, voltage
 * included, once with a brush drop that bends (tanh) and once with one that jumps (sgn).
 *   npx tsx test/studies/coverage.ts rig [seeds, 20] [seed of the first, 1]
 * does the whole set of tests of every practice motor, by a linear stage and by PWM at 20 kHz: ripple, quantisation, static friction, heating, a supply that
 * gives way, edges off the sample grid, an encoder that lags.
 * Both run on all cores, print a table in markdown, and can be interrupted: then of what is done so far.
 */
import { fork } from 'node:child_process'
import { mkdirSync } from 'node:fs'
import { availableParallelism } from 'node:os'
import { fileURLToPath } from 'node:url'
import { buildSync } from 'esbuild'
import { coverageReport } from '../support/coverage-report.ts'
import type { CoverageSample, CoverageTask } from '../support/coverage-sample.ts'
import { MOTOR_FILES, practiceMotor } from '../support/practice.ts'

const [study = 'model', ...numbers] = process.argv.slice(2)
if (study !== 'model' && study !== 'rig') {
  throw new Error(`'${study}' is no study; 'model' or 'rig'`)
}
const [count = study === 'model' ? 4000 : 20, first = 1] = numbers.map(Number)

// Bundled, as the program is: through a loader every import costs at each use.
const folder = fileURLToPath(new URL('../../node_modules/.cache/', import.meta.url))
mkdirSync(folder, { recursive: true })
const worker = `${folder}coverage-worker.mjs`
buildSync({
  entryPoints: [fileURLToPath(new URL('../support/coverage-worker.ts', import.meta.url))],
  bundle: true,
  platform: 'node',
  format: 'esm',
  packages: 'external',
  outfile: worker,
  logLevel: 'error',
})

// Sound motors: parts across the terminals, gears and damage are what `recognise` is for.
const motors = MOTOR_FILES.map(file => file.replace('.json', '')).filter(isSound)
const cores = availableParallelism()
const samples: CoverageSample[] = []
let running = 0
let told = 0
for (let part = 0; part < cores; part++) {
  const task: CoverageTask = {
    study,
    motors,
    first: first + part,
    step: cores,
    end: first + count,
  }
  const child = fork(worker, [JSON.stringify(task)], { execArgv: [] })
  running += 1
  child.on('message', (sample: CoverageSample) => {
    samples.push(sample)
    if (samples.length - told >= 100) {
      told = samples.length
      console.error(`${told} fits`)
    }
  })
  child.on('exit', () => {
    running -= 1
    if (running === 0) console.log(coverageReport(study, samples))
  })
}

function isSound(name: string): boolean {
  const { gear, cutOut, across, winding } = practiceMotor(name)
  return !(gear || cutOut || across || winding.fault)
}
