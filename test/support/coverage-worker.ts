import {
  type CoverageTask,
  LAW_NAMES,
  modelSample,
  rigSample,
  SWITCHED,
} from './coverage-sample.ts'

/** A share of a coverage study, in a process of its own: every `step`-th seed. */
const task = JSON.parse(process.argv[2]!) as CoverageTask
let stopped = false
process.once('SIGINT', () => {
  stopped = true
})
const groups = task.study === 'model' ? LAW_NAMES : task.motors.flatMap(m => [m, m + SWITCHED])
const sampleOf = task.study === 'model' ? modelSample : rigSample
// Seed by seed, so that what is interrupted holds all groups alike.
for (let seed = task.first; seed < task.end && !stopped; seed += task.step) {
  for (const group of groups) {
    if (stopped) break
    process.send!(sampleOf(group, seed))
    await new Promise(resolve => setImmediate(resolve))
  }
}
process.disconnect()
