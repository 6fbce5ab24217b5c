import { expect, test } from 'vitest'
import { WorkFault } from '../../src/base/faults.ts'
import type { ChannelDeclaration } from '../../src/protocol/channel.ts'
import { connectTo, startRig } from '../support/bench-at-work.ts'
import { FakeHardware } from '../support/fake-hardware.ts'
import { LiveFakeRig } from '../support/live-fake-rig.ts'
import { coast, IN_REAL_TIME, planOf, requestOf } from '../support/plans.ts'

const pause = (ms: number) => new Promise(resolve => setTimeout(resolve, ms))

test('monitoring shows envelopes, stores and drives nothing, and makes room for a run', async () => {
  const fake = new LiveFakeRig()
  const { session, events, recorder } = await connectTo(() => fake.open())
  await session.monitor(10_000)
  expect(session.state).toBe('monitoring')
  const newest = () => events.findLast(event => event.type === 'counters')?.counters
  while ((newest()?.samples ?? 0) < 3000) await pause(10)
  const envelopes = events.filter(event => event.type === 'envelope')
  expect(envelopes.length).toBeGreaterThan(10)
  expect(envelopes[0]).toMatchObject({ runId: null })
  expect(envelopes[0]!.channels.map(channel => channel.quantity)).toEqual([
    'voltage',
    'current',
    'position',
  ])
  expect(newest()).toMatchObject({ samplesLost: 0, linesRejected: 0 })
  expect(recorder.runs).toHaveLength(0)

  const outcome = await session.run(requestOf(planOf([coast(0.1)], { kind: 'zero' })))
  expect(outcome.ending).toBe('complete')
  expect(fake.heard).not.toMatch(/ arm\*/)
  await session.monitor(1000)
  await session.idle()
  expect(session.state).toBe('ready')
  expect(fake.rig.stream.on).toBe(false)
})

test('slow streams come as decimal lines, fast ones as blocks', async () => {
  const fake = new LiveFakeRig()
  const { session } = await connectTo(() => fake.open())
  await session.monitor(20)
  await session.monitor(10_000)
  const formats = [...fake.heard.matchAll(/sampling .*format=(\w+)/g)].map(([, format]) => format)
  expect(formats).toEqual(['decimal', 'block'])
})

test('measures the mean and the scatter of every channel at rest', IN_REAL_TIME, async () => {
  const rig = await startRig({ via: 'in-process' })
  const { session } = await connectTo(() => rig.open())
  const readings = await session.measure(0.5, 10_000)
  expect(readings.map(reading => reading.quantity)).toEqual(['voltage', 'current', 'speed'])
  for (const { samples, meanCounts, meanSi, quantity } of readings) {
    expect(samples).toBeGreaterThan(4000)
    const { scale, offset } = session.rig.channels.find(c => c.quantity === quantity)!
    expect(meanSi).toBeCloseTo(scale * meanCounts + offset, 9)
  }
  const [, current] = readings
  const declared = session.rig.channels[1]!
  // At rest the channel shows its own noise and the step of its counts, nothing else.
  const noiseCounts = Math.hypot(declared.traits.noise! / declared.scale, 1 / Math.sqrt(12))
  expect(current!.standardDeviationCounts / noiseCounts).toBeGreaterThan(0.7)
  expect(current!.standardDeviationCounts / noiseCounts).toBeLessThan(1.5)
  expect(session.state).toBe('ready')
})

test('a channel table that changes with the rate is refused, by name', async () => {
  class Shifty extends FakeHardware {
    override channelsAt(periodNs: number): readonly ChannelDeclaration[] {
      const channels = super.channelsAt(periodNs)
      return periodNs === 100_000
        ? channels
        : channels.map(c => (c.index === 1 ? { ...c, scale: 0.002 } : c))
    }
  }
  const fake = new LiveFakeRig(new Shifty())
  const { session } = await connectTo(() => fake.open())
  const failure = await session.monitor(1000).catch((error: Error) => error)
  expect(failure).toBeInstanceOf(WorkFault)
  expect((failure as Error).message).toMatch(/changed its channels \('amps'\)/)
  expect(session.state).toBe('ready')
})

test('tells that the rig is not heard, and that it is back', async () => {
  const fake = new LiveFakeRig()
  const { session, events } = await connectTo(() => fake.open())
  fake.hold(700)
  await pause(1100)
  const states = events.flatMap(event => (event.type === 'link' ? [event.state] : []))
  expect(states).toEqual(['connecting', 'ready', 'silent', 'ready'])
  expect(session.state).toBe('ready')
})

test('closes politely: disarmed first, nothing heard of afterwards', async () => {
  const fake = new LiveFakeRig()
  const { session, events } = await connectTo(() => fake.open())
  await session.close()
  expect(fake.heard.trimEnd()).toMatch(/ disarm\*[0-9A-F]{4}$/)
  const told = events.length
  await pause(150)
  expect(events).toHaveLength(told)
  await expect(session.monitor(1000)).rejects.toThrow(/not connected/)
})
