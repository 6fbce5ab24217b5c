import { expect, test } from 'vitest'
import { InputFault } from '../../src/base/faults.ts'
import type { BenchSession } from '../../server/session/bench-session.ts'
import { connectTo, startRig } from '../support/bench-at-work.ts'
import { FakeHardware } from '../support/fake-hardware.ts'
import { LiveFakeRig } from '../support/live-fake-rig.ts'
import { coast, drive, IN_REAL_TIME, type KeptRun, planOf, requestOf } from '../support/plans.ts'

const pause = (ms: number) => new Promise(resolve => setTimeout(resolve, ms))

async function until(what: () => boolean): Promise<void> {
  while (!what()) await pause(2)
}

const spinning = planOf([coast(0.05), drive(3, 5)])

/** Starts the long plan and waits until the motor is driven. */
async function spinUp(session: BenchSession, runs: readonly KeptRun[]) {
  const before = runs.length
  const running = session.run(requestOf(spinning))
  await until(() => (runs[before]?.edges.length ?? 0) > 0)
  await pause(100)
  return running
}

const stored = (run: KeptRun) => run.chunks.reduce((sum, chunk) => sum + chunk.sampleCount, 0)

/** Every sample is there once or counted as lost. */
function expectConserved(run: KeptRun): void {
  const first = run.chunks[0]!
  const last = run.chunks.at(-1)!
  const span = last.firstSequence + last.sampleCount - first.firstSequence
  const { samples, samplesLost } = run.finished!.counters
  const lost = run.losses.reduce((sum, loss) => sum + loss.samples, 0)
  expect(samples).toBe(stored(run))
  expect(samplesLost).toBe(lost)
  // What was lost before the first and after the last stored sample lies outside the span.
  expect(samples + lost).toBeGreaterThanOrEqual(span)
  let next = first.firstSequence
  let inside = 0
  for (const chunk of run.chunks) {
    expect(chunk.firstSequence).toBeGreaterThanOrEqual(next)
    inside += chunk.firstSequence - next
    next = chunk.firstSequence + chunk.sampleCount
  }
  expect(samples + inside).toBe(span)
}

test.each(['pseudo-terminal', 'in-process'] as const)(
  'a port that vanishes (%s): the samples so far are kept, the same rig resumes',
  IN_REAL_TIME,
  async via => {
    const rig = await startRig({ via })
    const { session, recorder, events } = await connectTo(() => rig.open())
    const running = spinUp(session, recorder.runs)
    await until(() => (recorder.runs[0]?.edges.length ?? 0) > 0)
    await pause(150)
    const before = stored(recorder.runs[0]!)
    await rig.do({ act: 'unplug' })
    const outcome = await running
    expect(outcome.ending).toBe('link-lost')
    expect(outcome.text).toMatch(/is lost|nothing heard/)
    expect(outcome.counters.samples).toBeGreaterThanOrEqual(before)
    expectConserved(recorder.runs[0]!)
    expect(session.state).toBe('lost')
    expect(events).toContainEqual(expect.objectContaining({ type: 'link', state: 'lost' }))
    await expect(session.run(requestOf(spinning))).rejects.toThrow(/not connected/)
    await session.stop('stop') // never hangs, though nobody is there

    await expect(session.resume()).rejects.toThrow()
    expect(session.state).toBe('lost')
    await rig.do({ act: 'plug' })
    await session.resume()
    expect(session.state).toBe('ready')
    const again = await session.run(requestOf(planOf([drive(3, 0.1)])))
    expect(again.ending).toBe('complete')
  },
)

test(
  'another rig at the same port is refused, and the session stays lost',
  IN_REAL_TIME,
  async () => {
    const one = await startRig({ via: 'in-process', seed: 1 })
    const two = await startRig({ via: 'in-process', seed: 2 })
    let plugged = one
    const { session } = await connectTo(() => plugged.open())
    await one.do({ act: 'unplug' })
    await until(() => session.state === 'lost')
    plugged = two
    const refusal = await session.resume().catch((error: Error) => error)
    expect(refusal).toBeInstanceOf(InputFault)
    expect((refusal as Error).message).toMatch(
      /another rig answers now: .* serial number P000002; before it was .* P000001/,
    )
    expect(session.state).toBe('lost')
    plugged = one
    await one.do({ act: 'plug' })
    await session.resume()
    expect(session.rig.serialNumber).toBe('P000001')
  },
)

test('a board that restarts in mid-run is noticed at once', IN_REAL_TIME, async () => {
  const rig = await startRig({ via: 'in-process' })
  const { session, recorder } = await connectTo(() => rig.open())
  const running = spinUp(session, recorder.runs)
  await until(() => (recorder.runs[0]?.edges.length ?? 0) > 0)
  await rig.do({ act: 'reset' })
  expect(await running).toMatchObject({ ending: 'link-lost', text: 'the rig restarted (reset)' })
  await session.resume()
  expect(session.state).toBe('ready')
})

test(
  'noise on the line: every line is accepted or rejected with its reason, every lost sample counted',
  IN_REAL_TIME,
  async () => {
    const rig = await startRig()
    const { session, recorder } = await connectTo(() => rig.open())
    await rig.do({ act: 'troubles', troubles: { flipped: 6e-5, lost: 2e-5, added: 2e-5 } })
    const outcome = await session.run(requestOf(planOf([coast(1.5)], { kind: 'zero' })))
    expect(outcome).toMatchObject({ ending: 'complete', trip: null })
    const run = recorder.runs[0]!
    expect(run.rejects.length).toBeGreaterThan(0)
    expect(run.rejects.length).toBe(outcome.counters.linesRejected)
    for (const { reason } of run.rejects) expect(reason).toMatch(/\S/)
    expect(outcome.counters.samplesLost).toBeGreaterThan(0)
    expectConserved(run)
  },
)

test('a line that stands still for a while loses nothing', IN_REAL_TIME, async () => {
  const rig = await startRig()
  const { session, recorder } = await connectTo(() => rig.open())
  const running = spinUp(session, recorder.runs)
  await until(() => (recorder.runs[0]?.edges.length ?? 0) > 0)
  await rig.do({ act: 'stall', forSec: 0.1 })
  await pause(400)
  await session.stop('enough')
  const outcome = await running
  expect(outcome).toMatchObject({ ending: 'stopped', counters: { samplesLost: 0 } })
  expectConserved(recorder.runs[0]!)
})

// P-6.7, P-7.6
test('what the rig itself drops is counted as the rig’s', IN_REAL_TIME, async () => {
  const fake = new LiveFakeRig(new FakeHardware(), { sampleBufferBytes: 3000 })
  const { session, recorder } = await connectTo(() => fake.open())
  const running = session.run(requestOf(planOf([coast(0.6)], { kind: 'zero' })))
  await until(() => recorder.runs[0] !== undefined && recorder.runs[0].chunks.length > 3)
  fake.hold(120)
  const outcome = await running
  expect(outcome.ending).toBe('complete')
  const run = recorder.runs[0]!
  expect(run.losses.every(loss => loss.where === 'rig')).toBe(true)
  expect(outcome.counters.samplesLost).toBeGreaterThan(100)
  expect(run.notes).toContainEqual(expect.objectContaining({ code: 'overrun' }))
  expectConserved(run)
})

const lies: [what: string, lie: (line: string) => string][] = [
  ['ten megabytes without a line end', () => 'x'.repeat(10_000_000)],
  ['terminal escapes', () => '\u001b]0;owned\u0007\u001b[2J\n'],
  ['a line of a million stars', () => `${'*'.repeat(1_000_000)}\n`],
]
test.each(lies)('%s in mid-run: rejected, shown safely, memory bounded', async (_, lie) => {
  const fake = new LiveFakeRig()
  const { session, recorder } = await connectTo(() => fake.open())
  const running = session.run(requestOf(planOf([coast(0.4)], { kind: 'zero' })))
  await until(() => (recorder.runs[0]?.chunks.length ?? 0) > 2)
  fake.inject(lie(''))
  fake.inject('\n')
  const outcome = await running
  expect(outcome.ending).toBe('complete')
  expect(outcome.counters.linesRejected).toBeGreaterThan(0)
  const kept = recorder.runs[0]!.rejects.reduce((sum, reject) => sum + reject.raw.length, 0)
  expect(kept).toBeLessThan(20_000)
  for (const { raw } of recorder.runs[0]!.rejects) expect(raw).not.toMatch(/[\u0000-\u001f\u007f]/)
})

test('a rig whose counter keeps falling back is not believed for long', IN_REAL_TIME, async () => {
  const fake = new LiveFakeRig(new FakeHardware(), { sequenceStart: 1e6 })
  const { session, recorder } = await connectTo(() => fake.open())
  const running = session.run(requestOf(planOf([drive(3, 5, 4)])))
  await until(() => (recorder.runs[0]?.edges.length ?? 0) > 0)
  await pause(50)
  fake.rig.stream.sequence -= 5000
  expect(await running).toMatchObject({
    ending: 'tripped',
    trip: { by: 'host', code: 'rig-contradicts' },
  })
  expect(recorder.runs[0]!.rejects[0]!.reason).toMatch(/counter fell back/)
  expect(fake.hardware.mode).toBe('coast')
})
