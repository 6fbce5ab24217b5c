import { describe, expect, test } from 'vitest'
import { seededUniform } from '../../src/base/random.ts'
import { crc16, crcText } from '../../src/protocol/crc.ts'
import { HostReader } from '../../src/protocol/host-reader.ts'
import { RigReader } from '../../src/protocol/rig-reader.ts'
import { latin, mutant } from '../support/mutant.ts'
import { asBytes, pageExamples } from '../support/protocol-page.ts'

/** The speed benchmark runs a million; this is what a quick suite affords. */
const MUTANTS = 100_000

const LAYOUT = [
  { index: 0, kind: 'signed', lowCount: -32_768, highCount: 32_767 },
  { index: 1, kind: 'signed', lowCount: -32_768, highCount: 32_767 },
  { index: 2, kind: 'modulo', lowCount: 0, highCount: 65_535 },
] as const

/** By a path that shares nothing with the reader's but the table of the checksum. */
function checksumHolds(line: Uint8Array): boolean {
  const text = String.fromCharCode(...line).replace(/\r$/, '')
  const parts = /^([^*]+)\*([0-9A-F]{4})$/s.exec(text)
  return parts !== null && crcText(crc16(latin(parts[1]!))) === parts[2]
}

function mutants(from: 'rig' | 'host', seed: number): Uint8Array[] {
  const uniform = seededUniform(seed)
  const lines = pageExamples()
    .filter(e => e.from === from)
    .map(e => asBytes([e.line], ''))
  return Array.from({ length: MUTANTS / 2 }, () =>
    mutant(lines[Math.floor(uniform() * lines.length)]!, uniform),
  )
}

const LINE_FEED = Uint8Array.of(10)

describe('lines damaged at random', () => {
  // P-3.3 P-3.7
  test('from a rig: none accepted with a wrong checksum, each rejected one counted with its reason', () => {
    let accepted = 0
    let rejected = 0
    const reader = new RigReader({
      samples: () => accepted++,
      upload: () => accepted++,
      message: () => accepted++,
      fault: error => {
        rejected++
        expect(error.raw).toMatch(/^[ -~…]*$/)
      },
    })
    reader.setLayout(LAYOUT, LAYOUT)
    let wronglyAccepted = 0
    let unaccounted = 0
    const lines = mutants('rig', 1)
    let empty = 0
    for (const line of lines) {
      const before = accepted
      const total = accepted + rejected
      reader.push(line)
      reader.push(LINE_FEED)
      if (accepted > before && !checksumHolds(line)) wronglyAccepted++
      if (line.length === 0 || (line.length === 1 && line[0] === 13)) empty++
      else if (accepted + rejected !== total + 1) unaccounted++
    }
    expect(wronglyAccepted).toBe(0)
    expect(unaccounted).toBe(0)
    expect(accepted + rejected + empty).toBe(lines.length)
    expect(reader.counters).toMatchObject({ accepted, rejected, lines: accepted + rejected })
    const reasons = [...reader.counters.rejectedBy.values()].reduce((a, b) => a + b, 0)
    expect(reasons).toBe(rejected)
    // The fuzz reaches behind the checksum: many kinds of fault, and some good lines.
    expect(reader.counters.rejectedBy.size).toBeGreaterThanOrEqual(10)
    expect(accepted).toBeGreaterThan(lines.length / 100)
  })

  // P-3.7 P-12.1
  test('from a host: none obeyed with a wrong checksum, none without a verdict', () => {
    let obeyed = 0
    let refused = 0
    let dropped = 0
    const reader = new HostReader({
      request: () => obeyed++,
      wrong: () => refused++,
      unreadable: () => dropped++,
    })
    let wronglyObeyed = 0
    let unaccounted = 0
    for (const line of mutants('host', 2)) {
      const before = obeyed + refused
      const total = before + dropped
      reader.push(line)
      reader.push(LINE_FEED)
      if (obeyed + refused > before && !checksumHolds(line)) wronglyObeyed++
      const empty = line.length === 0 || (line.length === 1 && line[0] === 13)
      if (!empty && obeyed + refused + dropped !== total + 1) unaccounted++
    }
    expect(wronglyObeyed).toBe(0)
    expect(unaccounted).toBe(0)
    expect(Math.min(obeyed, refused, dropped)).toBeGreaterThan(MUTANTS / 200)
  })
})
