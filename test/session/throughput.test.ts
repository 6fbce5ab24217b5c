import { monitorEventLoopDelay } from 'node:perf_hooks'
import { Worker } from 'node:worker_threads'
import { expect, onTestFinished, test } from 'vitest'
import { openRecorder } from '../../server/recorder/open-recorder.ts'
import { connectBench } from '../../server/session/connect.ts'
import { openStore } from '../../server/store/open-store.ts'
import type { LiveEvent } from '../../src/contract/live.ts'
import { startRig } from '../support/bench-at-work.ts'
import { coast, drive, IN_REAL_TIME, planOf, requestOf } from '../support/plans.ts'
import { scratchFile } from '../support/scratch-store.ts'

/** What a fit is to the threads that drive a motor: a core gone, for as long as it takes. */
function computeInWorker(): void {
  const worker = new Worker('for (let x = 0; ; x++) Math.sqrt(x)', { eval: true })
  onTestFinished(async () => {
    await worker.terminate()
  })
}

test(
  'ten thousand samples a second of three channels, through a pseudo-terminal into the store, while a worker computes: none is lost',
  IN_REAL_TIME,
  async () => {
    const file = scratchFile()
    const store = openStore(file, { now: Date.now })
    const motor = store.motors.ensure('Dormouse 12')
    const recorder = await openRecorder({ file })
    const rig = await startRig()
    const events: LiveEvent[] = []
    const session = await connectBench({ open: () => rig.open(), recorder: recorder.begin })
    session.listen(event => events.push(event))
    computeInWorker()

    const delay = monitorEventLoopDelay({ resolution: 5 })
    delay.enable()
    const seconds = 3
    const plan = planOf([coast(0.3), drive(6, seconds - 0.6), coast(0.3)])
    const outcome = await session.run({ ...requestOf(plan), motor })
    delay.disable()
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
