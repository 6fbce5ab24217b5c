import { expect, test } from 'vitest'
import { type IntakeSink, SampleIntake } from '../../server/session/sample-intake.ts'
import type { SampleChunk } from '../../server/session/run-log.ts'
import type { ChannelDeclaration } from '../../src/protocol/channel.ts'
import type { SampleBatch } from '../../src/protocol/sample-lines.ts'
import { Unwrapper } from '../../src/protocol/unwrap.ts'
import { BRIDGE } from '../../src/records/recording.ts'
import { FakeHardware } from '../support/fake-hardware.ts'

const PERIOD_US = 100
const CHANNELS = new FakeHardware().channelsAt(PERIOD_US * 1000)
const WRAP = 2 ** 32

function intakeOf(channels: readonly ChannelDeclaration[] = CHANNELS) {
  const chunks: SampleChunk[] = []
  const losses: { link: number; rig: number }[] = []
  const refusals: string[] = []
  const seen: { bridge: number[]; first: number[]; timeSec: number[] }[] = []
  const sink: IntakeSink = {
    lost: loss => losses.push(loss),
    chunk: chunk => chunks.push({ ...chunk, counts: chunk.counts.slice() }),
    seen: ({ count, bridge, columns, timeSec }) =>
      seen.push({
        bridge: [...bridge.subarray(0, count)],
        first: [...columns[0]!.subarray(0, count)],
        timeSec: [...timeSec.subarray(0, count)],
      }),
    refused: reason => refusals.push(reason),
  }
  const clock = new Unwrapper()
  const intake = new SampleIntake(channels, PERIOD_US * 1000, us => clock.next(us), sink)
  return { intake, chunks, losses, refusals, seen, clock }
}

/** `count` samples; channel 0 counts the sequence, the encoder goes round. */
function batch(sequence: number, count: number, changes: Partial<SampleBatch> = {}): SampleBatch {
  const counts = new Int32Array(count * 3)
  for (let i = 0; i < count; i++) {
    counts[3 * i] = (sequence + i) % 30_000
    counts[3 * i + 1] = -7
    counts[3 * i + 2] = (65_000 + 40 * (sequence + i)) % 65_536
  }
  const timeUs = (5_000_000 + sequence * PERIOD_US) % WRAP
  return { sequence: sequence % WRAP, timeUs, count, channels: 3, counts, ...changes }
}

test('counts what is missing, from the first sample that was promised to the last', () => {
  const { intake, losses, chunks } = intakeOf()
  intake.begin(0)
  intake.take(batch(5, 10))
  intake.take(batch(15, 10))
  intake.overrun(25, 4)
  intake.take(batch(31, 10))
  intake.end(44)
  expect(losses).toEqual([
    { link: 5, rig: 0 },
    { link: 2, rig: 4 },
    { link: 3, rig: 0 },
  ])
  expect(intake.samples).toBe(30)
  expect(intake.ledger.total).toBe(14)
  expect(chunks.map(chunk => [chunk.firstSequence, chunk.sampleCount])).toEqual([
    [5, 10],
    [15, 10],
    [31, 10],
  ])
  expect(chunks[0]!.startSec).toBeCloseTo(5e-4, 12)
})

// P-6.8
test('follows counter and clock through their wrap', () => {
  const { intake, losses, refusals, chunks } = intakeOf()
  const first = WRAP - 15
  intake.begin(first)
  for (let k = 0; k < 4; k++) intake.take(batch(first + 10 * k, 10))
  expect(losses).toEqual([])
  expect(refusals).toEqual([])
  expect(chunks.at(-1)).toMatchObject({ firstSequence: first + 30, startSec: 3e-3 })
})

test('takes samples that were read together with the answer that promised them', () => {
  const { intake, losses } = intakeOf()
  intake.take(batch(103, 10))
  intake.begin(100)
  expect(losses).toEqual([{ link: 3, rig: 0 }])
})

test('makes an encoder continuous and leaves the counts of the others as they are', () => {
  const { intake, chunks } = intakeOf()
  intake.begin(0)
  intake.take(batch(0, 30))
  const { counts } = chunks[0]!
  const positions = Array.from({ length: 30 }, (_, i) => counts[3 * i + 2]!)
  expect(positions[0]).toBe(65_000)
  expect(positions[29]).toBe(65_000 + 29 * 40)
  expect(counts[3 * 12]).toBe(12)
})

test('keeps 16 bits where 16 bits are enough', () => {
  const analogue = CHANNELS.map(c => ({ ...CHANNELS[0]!, index: c.index }))
  const { intake, chunks } = intakeOf(analogue)
  intake.begin(0)
  intake.take({ ...batch(0, 4), counts: new Int32Array(12) })
  expect(chunks[0]!.counts).toBeInstanceOf(Int16Array)
})

const lies: [what: string, lie: SampleBatch, said: RegExp][] = [
  [
    'a counter that falls back',
    batch(5, 10, { timeUs: 5_001_000 }),
    /counter fell back from 10 to 5/,
  ],
  [
    'a counter that leaps where the time does not',
    batch(90_000, 10, { timeUs: 5_001_000 }),
    /time .* away/,
  ],
  ['time that runs backwards', batch(10, 10, { timeUs: 4_000_000 }), /time .* away/],
]
test.each(lies)('refuses %s, says so, and goes on with the truth', (_, lie, said) => {
  const { intake, refusals, losses, chunks } = intakeOf()
  intake.begin(0)
  intake.take(batch(0, 10))
  intake.take(lie)
  expect(refusals).toHaveLength(1)
  expect(refusals[0]).toMatch(said)
  expect(intake.refusedInARow).toBe(1)
  intake.take(batch(20, 10))
  expect(intake.refusedInARow).toBe(0)
  expect(losses).toEqual([{ link: 10, rig: 0 }])
  expect(chunks).toHaveLength(2)
})

test('remembers how far sample times stray from an even grid', () => {
  const { intake } = intakeOf()
  intake.begin(0)
  intake.take(batch(0, 10))
  intake.take(batch(10, 10, { timeUs: 5_001_002 }))
  expect(intake.worstStrayUs).toBe(0)
  intake.take(batch(20, 10, { timeUs: 5_002_030 }))
  expect(intake.worstStrayUs).toBe(30)
})

test('says of each sample what the bridge did when it was taken', () => {
  const { intake, seen } = intakeOf()
  intake.begin(0)
  intake.bridge.edge(5_000_250, 'drive')
  intake.bridge.edge(5_000_600, 'brake')
  intake.take(batch(0, 10))
  const { coast, drive, brake } = BRIDGE
  expect(seen[0]!.bridge).toEqual([
    coast,
    coast,
    coast,
    drive,
    drive,
    drive,
    brake,
    brake,
    brake,
    brake,
  ])
  expect(intake.secondsOf(5_000_250)).toBeCloseTo(250e-6, 12)
})

test('converts by the declared scale', () => {
  const { intake, seen } = intakeOf()
  intake.begin(0)
  intake.take(batch(0, 3))
  expect(seen[0]!.first).toEqual([0, 0.001, 0.002])
  expect(seen[0]!.timeSec).toEqual([0, 1e-4, 2e-4])
})
