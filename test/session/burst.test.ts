import { expect, test } from 'vitest'
import { InputFault } from '../../src/base/faults.ts'
import { connectTo, startRig } from '../support/bench-at-work.ts'
import { FakeHardware } from '../support/fake-hardware.ts'
import { LiveFakeRig } from '../support/live-fake-rig.ts'
import { coast, columnOf, drive, IN_REAL_TIME, planOf, requestOf } from '../support/plans.ts'

const plan = planOf([coast(0.05), drive(6, 0.1, 4), coast(0.05)], { rateHz: 1000 })

// P-9
test(
  'a burst around the first drive is a run of its own at the highest rate',
  IN_REAL_TIME,
  async () => {
    const rig = await startRig()
    await rig.setShaft('locked', 1)
    const { session, recorder } = await connectTo(() => rig.open())
    const locked = planOf([coast(0.05), drive(4, 0.1), coast(0.05)], {
      kind: 'locked-rotor',
      rateHz: 1000,
    })
    const burst = { step: 1, samples: 4000, before: 400 }
    const outcome = await session.run({ ...requestOf(locked), burst })
    expect(outcome).toMatchObject({ ending: 'complete', runId: 1, burstRunId: 2 })
    const [, kept] = recorder.runs
    expect(kept!.facts.plan).toMatchObject({ kind: 'locked-rotor', rateHz: 200_000 })
    expect(kept!.finished).toMatchObject({ ending: 'complete', counters: { samplesLost: 0 } })
    const current = columnOf(kept!, 'current')
    expect(current).toHaveLength(4000)
    // The first sample after the trigger is the first after the edge.
    const [edge] = kept!.edges
    expect(edge).toMatchObject({ state: 'drive', setVolt: 4 })
    expect(Math.abs(edge!.timeSec - 400 * 5e-6)).toBeLessThan(15e-6)
    const before = current.subarray(0, 395)
    const after = current.subarray(3000)
    expect(Math.abs(before.reduce((sum, amp) => sum + amp, 0) / before.length)).toBeLessThan(2e-3)
    expect(Math.min(...after)).toBeGreaterThan(0.2)
  },
)

test('pieces that the line lost are asked for again', async () => {
  const fake = new LiveFakeRig()
  const { session, recorder } = await connectTo(() => fake.open())
  let uploads = 0
  fake.pass = bytes => {
    const text = new TextDecoder('latin1').decode(bytes)
    // Every third piece of the first upload is damaged on its way.
    const damaged = text.replace(/^U .*\n/gm, line =>
      ++uploads % 3 === 0 && uploads < 9 ? line.replace(' ', '~') : line,
    )
    return Uint8Array.from(damaged, letter => letter.charCodeAt(0))
  }
  const burst = { step: 1, samples: 2000, before: 100 }
  const outcome = await session.run({ ...requestOf(plan), burst })
  expect(outcome.burstRunId).toBe(2)
  expect(fake.heard.match(/ upload /g)!.length).toBeGreaterThan(1)
  const kept = recorder.runs[1]!
  expect(kept.losses).toEqual([])
  // The fake counts burst samples in its encoder: none twice, none missing.
  const encoder = columnOf(kept, 'position')
  expect(encoder).toHaveLength(2000)
  for (let k = 1; k < encoder.length; k++) {
    expect(Math.round((encoder[k]! - encoder[k - 1]!) / 0.001)).toBe(1)
  }
})

test('what never arrives is a counted loss', async () => {
  const fake = new LiveFakeRig()
  const { session, recorder } = await connectTo(() => fake.open())
  fake.pass = bytes => {
    const text = new TextDecoder('latin1').decode(bytes)
    const without = text.replace(/^U (\d+) .*\n/gm, (line, from) =>
      Number(from) > 0 && Number(from) < 500 ? '' : line,
    )
    return Uint8Array.from(without, letter => letter.charCodeAt(0))
  }
  const burst = { step: 1, samples: 1000, before: 0 }
  await session.run({ ...requestOf(plan), burst })
  const kept = recorder.runs[1]!
  const lost = kept.losses.reduce((sum, loss) => sum + loss.samples, 0)
  expect(lost).toBeGreaterThan(100)
  expect(kept.finished!.counters).toMatchObject({ samples: 1000 - lost, samplesLost: lost })
})

test('a step that never came leaves no burst', async () => {
  const fake = new LiveFakeRig()
  const { session, recorder } = await connectTo(() => fake.open())
  const burst = { step: 2, samples: 100, before: 0 }
  const running = session.run({
    ...requestOf(planOf([coast(0.3), drive(6, 0.1, 4), drive(3, 0.1, 4)])),
    burst,
  })
  setTimeout(() => session.stop('enough'), 100)
  expect(await running).toMatchObject({ ending: 'stopped', burstRunId: null })
  expect(recorder.runs).toHaveLength(1)
})

test.each([
  [{ step: 0, samples: 5000, before: 0 }, /this rig takes 1 to 4096/],
  [{ step: 0, samples: 10, before: 10 }, /must be from 0 to 9/],
])('refuses a burst of %o before anything is armed', async (burst, told) => {
  const fake = new LiveFakeRig()
  const { session } = await connectTo(() => fake.open())
  await expect(session.run({ ...requestOf(plan), burst })).rejects.toThrow(told)
  expect(fake.heard).not.toMatch(/ arm\*/)
})

test('says that a rig has no burst memory', async () => {
  const hardware = new FakeHardware()
  hardware.limits = { ...hardware.limits, burst: null }
  const fake = new LiveFakeRig(hardware)
  const { session } = await connectTo(() => fake.open())
  const burst = { step: 0, samples: 10, before: 0 }
  const failure = await session.run({ ...requestOf(plan), burst }).catch((error: Error) => error)
  expect(failure).toBeInstanceOf(InputFault)
  expect((failure as Error).message).toMatch(/no burst memory/)
})
