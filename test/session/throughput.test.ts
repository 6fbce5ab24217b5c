import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { monitorEventLoopDelay } from 'node:perf_hooks'
import { Worker } from 'node:worker_threads'
import { expect, onTestFinished, test } from 'vitest'
import { runJob } from '../../server/jobs/run-job.ts'
import { openRecorder } from '../../server/recorder/open-recorder.ts'
import { connectBench } from '../../server/session/connect.ts'
import { openStore } from '../../server/store/open-store.ts'
import type { LiveEvent } from '../../src/contract/live.ts'
import { startRig } from '../support/bench-at-work.ts'
import { coast, drive, IN_REAL_TIME, planOf, requestOf } from '../support/plans.ts'
import { UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'
import { scratchFile, scratchFolder } from '../support/scratch-store.ts'

/** What a fit is to the threads that drive a motor: a core gone, for as long as it takes. */
function computeInWorker(): () => number {
  const worker = new Worker('for (let x = 0; ; x++) Math.sqrt(x)', { eval: true })
  onTestFinished(async () => {
    await worker.terminate()
  })
  return () => 1
}

/** Recordings taken into the store that is being logged to, one after the other; tells how many are in. */
function importInto(storeFile: string): () => number {
  const file = join(scratchFolder(), 'elsewhere.csv')
  const rows = Array.from({ length: 40_000 }, (_, k) => `${k},${k % 12},${k % 7},${k % 300}`)
  writeFileSync(file, `time [ms],voltage [V],current [A],speed [rad/s]\n${rows.join('\n')}\n`)
  const stop = new AbortController()
  const conditions = UNKNOWN_CONDITIONS
  const into = { storeFile, motor: 'Elsewhere', kind: 'free-run', conditions } as const
  const input = { file, source: 'elsewhere.csv', choices: null, invert: [], into }
  let imported = 0
  const work = (async () => {
    for (; !stop.signal.aborted; imported++) {
      await runJob('import', input, { signal: stop.signal })
    }
  })().catch(() => {})
  onTestFinished(async () => {
    stop.abort()
    await work
  })
  return () => imported
}

test.each([
  ['a worker computes', computeInWorker],
  ['recordings are imported into the same store', importInto],
] as const)(
  'ten thousand samples a second of three channels, through a pseudo-terminal into the store, while %s: none is lost',
  IN_REAL_TIME,
  async (_, keepBusy) => {
    const file = scratchFile()
    const store = openStore(file, { now: Date.now })
    const motor = store.motors.ensure('Dormouse 12')
    const recorder = await openRecorder({ file })
    const rig = await startRig()
    const events: LiveEvent[] = []
    const session = await connectBench({ open: () => rig.open(), recorder: recorder.begin })
    session.listen(event => events.push(event))
    const workDone = keepBusy(file)

    const delay = monitorEventLoopDelay({ resolution: 5 })
    delay.enable()
    const seconds = 3
    const plan = planOf([coast(0.3), drive(6, seconds - 0.6), coast(0.3)])
    const outcome = await session.run({ ...requestOf(plan), motor })
    delay.disable()
    expect(workDone()).toBeGreaterThan(0)
    await session.close()
    await recorder.close()

    expect(outcome).toMatchObject({ ending: 'complete', trip: null })
    expect(outcome.counters).toMatchObject({ samplesLost: 0, linesRejected: 0 })
    expect(outcome.counters.samples).toBeGreaterThan(seconds * 10_000 * 0.98)
    const record = store.runs.get(outcome.runId)
    expect(record).toMatchObject({
      ending: 'complete',
      sampleCount: outcome.counters.samples,
      losses: [],
      quantities: ['voltage', 'current', 'speed'],
    })
    expect(store.runs.gaps(outcome.runId)).toEqual([])
    const { timeSec } = store.runs.recording(outcome.runId)
    expect(timeSec!.at(-1)! - timeSec![0]!).toBeCloseTo((outcome.counters.samples - 1) / 10_000, 9)
    store.close()

    const envelopes = events.filter(event => event.type === 'envelope')
    expect(envelopes.length).toBeGreaterThan(50 * seconds)
    expect(envelopes.length).toBeLessThan(62 * (seconds + 0.2))
    // 99th of a hundred: the worst turn also has what the computer did besides.
    expect(delay.percentile(99) / 1e6).toBeLessThan(50)
  },
)
