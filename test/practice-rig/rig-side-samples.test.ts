import { describe, expect, test } from 'vitest'
import { Unwrapper } from '../../src/protocol/unwrap.ts'
import { lineOf } from '../../src/protocol/frame.ts'
import { FakeHardware } from '../support/fake-hardware.ts'
import { RigDesk } from '../support/rig-desk.ts'

type Format = 'decimal' | 'block'

function streaming(format: Format, periodNs: number, channelMask = 7, options = {}) {
  const hardware = new FakeHardware()
  const desk = new RigDesk(hardware, options)
  desk.ask({ verb: 'sampling', periodNs, format, channelMask })
  const answer = desk.ask({ verb: 'stream', on: true })
  if (answer.kind !== 'ok') throw new Error(answer.words)
  return { hardware, desk, answer }
}

/** One entry a sample: counter and time unwrapped, and the sample number that the fake put in. */
function rows(desk: RigDesk, channels: number, periodUs: number) {
  const sequences = new Unwrapper()
  const times = new Unwrapper()
  return desk.log.samples.flatMap(batch => {
    const first = sequences.next(batch.sequence)
    const time = times.next(batch.timeUs)
    return Array.from({ length: batch.count }, (_, k) => ({
      sequence: first + k,
      timeUs: time + k * periodUs,
      number: batch.counts[(k + 1) * channels - 1]!,
    }))
  })
}

describe('the stream', () => {
  // P-6.3 P-6.5 P-6.8 P-6.9 P-6.10 P-11.3
  test.each(['decimal', 'block'] as const)(
    'as %s lines loses nothing, and counter and time run on across their wraps',
    format => {
      const { desk, answer } = streaming(format, 100_000, 7, {
        clockStartUs: 4_294_967_295 - 300_000,
        sequenceStart: 4_294_967_295 - 2000,
      })
      desk.wait(1)
      const off = desk.ask({ verb: 'stream', on: false })
      const got = rows(desk, 3, 100)
      expect(got).toHaveLength(10_000)
      expect(answer.sequence).toBe(4_294_965_295)
      got.forEach((row, k) => {
        if (row.number !== k || row.sequence !== 4_294_965_295 + k) throw new Error(`row ${k}`)
        if (row.timeUs !== answer.timeUs + 100 * (k + 1)) throw new Error(`time of row ${k}`)
      })
      expect(off).toMatchObject({ sequence: 10_000 - 2001, dropped: 0 })
      expect(desk.log.faults).toEqual([])
    },
  )

  // P-6.10
  test('that is stopped sends what it holds, then the answer, then nothing', () => {
    const { desk } = streaming('block', 100_000)
    desk.wait(0.0101)
    const before = desk.log.samples.length
    expect(desk.ask({ verb: 'stream', on: false })).toMatchObject({ sequence: 101 })
    const last = desk.log.samples.at(-1)!
    expect(last.sequence + last.count).toBe(101)
    const after = desk.log.samples.length
    expect(after).toBeGreaterThanOrEqual(before)
    desk.wait(0.1)
    expect(desk.log.samples).toHaveLength(after)
    expect(desk.ask({ verb: 'stream', on: false })).toMatchObject({ sequence: 101, dropped: 0 })
  })

  // P-6.9 P-6.1
  test('that is on is not switched on again, nor set anew', () => {
    const { desk } = streaming('block', 100_000)
    expect(desk.ask({ verb: 'stream', on: true })).toMatchObject({ code: 'not-now' })
    const sampling = { periodNs: 1_000_000, format: 'block', channelMask: 7 } as const
    expect(desk.ask({ verb: 'sampling', ...sampling })).toMatchObject({ code: 'not-now' })
  })

  // P-6.2 P-6.1
  test('holds the selected channels only', () => {
    const { hardware, desk } = streaming('decimal', 1_000_000, 0b101)
    desk.log.reader.setLayout(
      hardware.channelsAt(100_000).filter(c => c.index !== 1),
      null,
    )
    desk.wait(0.0031)
    expect(desk.log.samples.map(s => s.counts)).toEqual([
      [0, 0],
      [0, 1],
      [0, 2],
    ])
  })

  // P-6.6
  test('sends a block at the latest 20 ms after its first sample, and single ones at long periods', () => {
    const slow = streaming('block', 1_000_000)
    slow.desk.wait(0.2)
    for (const batch of slow.desk.log.samples) expect(batch.count).toBeLessThanOrEqual(20)
    expect(slow.desk.log.samples.length).toBe(10)
    const slower = streaming('block', 50_000_000)
    slower.desk.wait(0.2)
    expect(slower.desk.log.samples.map(s => s.count)).toEqual([1, 1, 1, 1])
  })

  // P-6.7 P-7.6 P-6.10 P-11.3
  test.each(['decimal', 'block'] as const)(
    'as %s lines over a stuck line drops whole samples and accounts for every one',
    format => {
      const { desk } = streaming(format, 100_000, 7, { sampleBufferBytes: 20_000 })
      desk.wait(0.1)
      for (let round = 0; round < 3; round++) {
        desk.wait(1, 0) // nobody takes anything
        desk.wait(0.3)
      }
      desk.wait(0.9, 40) // 40 kB/s: less than it makes
      const off = desk.ask({ verb: 'stream', on: false })
      const got = rows(desk, 3, 100)
      const overruns = desk.eventsOf('overrun')
      const dropped = overruns.reduce((sum, e) => sum + e.dropped, 0)
      expect(overruns.length).toBeGreaterThanOrEqual(4)
      expect(off).toMatchObject({ kind: 'ok', dropped })
      if (off.kind === 'ok') expect(got.length + dropped).toBe(off.sequence)
      const missing = new Set(overruns.flatMap(e => range(e.sequence, e.dropped)))
      got.forEach(row => {
        if (missing.has(row.sequence)) throw new Error(`sample ${row.sequence} sent and dropped`)
        if (row.number !== (row.sequence & 0xffff))
          throw new Error(`sample ${row.sequence} is wrong`)
      })
      expect(new Set([...missing, ...got.map(r => r.sequence)]).size).toBe(got.length + dropped)
      expectLossSaidBeforeGap(desk)
      expect(desk.log.faults).toEqual([])
    },
  )

  // P-3.8
  test('lets an answer overtake the samples that wait, but not the line that has begun', () => {
    const { desk } = streaming('block', 100_000)
    desk.wait(0.5, 0)
    desk.collect(100) // the first 100 bytes of a block
    desk.rig.receive(lineOf('Q 900 alive'))
    desk.collect()
    expect(desk.log.faults).toEqual([])
    expect(desk.log.trail.slice(3, 6)).toMatchObject([
      { sequence: 0 }, // had begun
      { answer: { id: 900 } },
      { sequence: desk.log.samples[0]!.count },
    ])
  })

  // P-11.1 P-11.2
  test('at the fastest rate leaves answers as quick as without it', () => {
    const { desk } = streaming('decimal', 100_000)
    for (let i = 0; i < 50; i++) {
      desk.wait(0.003)
      const before = desk.nowSec
      expect(desk.ask({ verb: 'alive' })).toMatchObject({ timeUs: Math.round(before * 1e6) })
      expect(desk.nowSec).toBe(before)
    }
  })

  // P-3.8 P-2.1
  test('on a slow line keeps each line within 20 ms of wire, and the baud rate', () => {
    const hardware = new FakeHardware()
    hardware.identity.baud = 115_200
    const desk = new RigDesk(hardware)
    desk.ask({ verb: 'sampling', periodNs: 1_000_000, format: 'block', channelMask: 7 })
    desk.ask({ verb: 'stream', on: true })
    const before = desk.log.reader.counters.bytes
    desk.wait(2)
    const bytes = desk.log.reader.counters.bytes - before
    expect(bytes).toBeLessThanOrEqual(2 * 11_520 + 230)
    const perSample = bytes / 2000
    for (const batch of desk.log.samples) expect(batch.count * perSample).toBeLessThanOrEqual(231)
    expect(desk.eventsOf('overrun')).toEqual([])
  })
})

const range = (from: number, count: number) => Array.from({ length: count }, (_, i) => from + i)

/** Each gap in the counter was explained by overruns that had come before it. */
function expectLossSaidBeforeGap(desk: RigDesk): void {
  const said = new Set<number>()
  let next = 0
  for (const item of desk.log.trail) {
    if (!('kind' in item)) {
      for (const lost of range(next, item.sequence - next)) expect(said.has(lost)).toBe(true)
      next = item.sequence + item.count
    } else if (item.kind === 'event' && item.event.name === 'overrun') {
      for (const lost of range(item.event.sequence, item.event.dropped)) said.add(lost)
    }
  }
}
