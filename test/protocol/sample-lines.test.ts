import { describe, expect, test } from 'vitest'
import { seededUniform } from '../../src/base/random.ts'
import { closeLine, lineOf } from '../../src/protocol/frame.ts'
import type { LineFault } from '../../src/protocol/line-fault.ts'
import {
  layoutOf,
  type SampleLayout,
  samplesPerBlock,
  writeBlock,
  writeDecimals,
} from '../../src/protocol/sample-lines.ts'
import { rigLog } from '../support/rig-log.ts'

const SIGNED = { index: 0, kind: 'signed', lowCount: -2048, highCount: 2047 } as const
const UNSIGNED = { index: 1, kind: 'unsigned', lowCount: 0, highCount: 4095 } as const
const MODULO = { index: 2, kind: 'modulo', lowCount: 0, highCount: 65_535 } as const
const LAYOUT: SampleLayout = [SIGNED, UNSIGNED, MODULO]

function faultOf(body: string, layout: SampleLayout | null = LAYOUT): LineFault | undefined {
  const { reader, samples, faults } = rigLog(layout)
  reader.push(lineOf(body))
  expect(samples.length + faults.length).toBe(1)
  return faults[0]?.fault
}

describe('sample lines', () => {
  // P-6.3 P-6.5
  test('carry every count there and back, decimal and block, seeded', () => {
    const uniform = seededUniform(5)
    const whole = (low: number, high: number) => low + Math.floor(uniform() * (high - low + 1))
    const line = new Uint8Array(1024)
    const perBlock = samplesPerBlock(3)
    const { reader, samples, faults } = rigLog(LAYOUT)
    for (let round = 0; round < 300; round++) {
      const count = whole(1, perBlock)
      const sequence = whole(0, 4_294_967_295)
      const timeUs = whole(0, 4_294_967_295)
      const counts = Array.from({ length: count }, () => [
        whole(-2048, 2047),
        whole(0, 4095),
        whole(0, 65_535),
      ]).flat()
      const end = writeBlock(line, 0, 'B', sequence, timeUs, counts, 0, count, 3)
      reader.push(line.slice(0, closeLine(line, 0, end)))
      expect(samples.at(-1)).toEqual({ sequence, timeUs, count, counts })
      const last = writeDecimals(line, 0, sequence, timeUs, counts, 3 * (count - 1), 3)
      reader.push(line.slice(0, closeLine(line, 0, last)))
      expect(samples.at(-1)).toEqual({ sequence, timeUs, count: 1, counts: counts.slice(-3) })
    }
    expect(faults).toEqual([])
  })

  // P-3.1
  test('as the fullest block keep within 1024 bytes, whatever the number of channels', () => {
    const line = new Uint8Array(2048)
    for (let channels = 1; channels <= 16; channels++) {
      const samples = samplesPerBlock(channels)
      const counts = new Int32Array(channels * (samples + 1)).fill(-1)
      const full = writeBlock(
        line,
        0,
        'B',
        4_294_967_295,
        4_294_967_295,
        counts,
        0,
        samples,
        channels,
      )
      expect(closeLine(line, 0, full)).toBeLessThanOrEqual(1024)
      expect(closeLine(line, 0, full)).toBeGreaterThan(1024 - 8 * Math.ceil(channels / 3) - 12)
    }
  })

  // P-6.2
  test('hold the channels of the mask in rising order', () => {
    const channel = (index: number) => ({ ...SIGNED, index }) as never
    const layout = layoutOf([channel(2), channel(0), channel(1)], 0b101)
    expect(layout.map(c => c.index)).toEqual([0, 2])
  })

  // P-6.11 P-3.6
  const bad: [string, LineFault['code']][] = [
    ['S 0 0 0 0', 'field-count'],
    ['S 0 0 0 0 0 0', 'field-count'],
    ['S 0 0 2048 0 0', 'out-of-range'],
    ['S 0 0 0 -1 0', 'out-of-range'],
    ['S 0 0 0 0 65536', 'out-of-range'],
    ['S 0 0 99999999999 0 0', 'not-a-number'],
    ['S 4294967296 0 0 0 0', 'out-of-range'],
    ['S -1 0 0 0 0', 'out-of-range'],
    ['S 0 0 00 0 0', 'not-a-number'],
    ['S 0 0 -0 0 0', 'not-a-number'],
    ['S 0 0 1.5 0 0', 'not-a-number'],
    ['S 0 0  1 0 0', 'not-a-number'],
    ['S 0 0 1 0 0 ', 'field-count'],
    ['S 0', 'not-a-number'],
    ['S', 'not-a-number'],
    ['B 0 0 1 AAAA', 'payload'],
    ['B 0 0 2 AAAAAAAA', 'payload'],
    ['B 0 0 1', 'payload'],
    ['B 0 0 0 ', 'out-of-range'],
    ['B 0 0 1024 AAAA', 'payload'],
    ['B 0 0 1025 AAAA', 'out-of-range'],
    // 4096 in the channel of twelve bits.
    ['B 0 0 1 AAAAEAAA', 'out-of-range'],
  ]
  test.each(bad)("are refused as '%s' (%s)", (body, code) => {
    expect(faultOf(body)).toMatchObject({ code })
  })

  test('before the channels are agreed are counted, not guessed', () => {
    expect(faultOf('S 0 0 0 0 0', null)).toEqual({ code: 'no-layout' })
  })
})
