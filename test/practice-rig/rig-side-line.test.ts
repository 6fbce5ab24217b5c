import { describe, expect, test } from 'vitest'
import { seededUniform } from '../../src/base/random.ts'
import { lineOf } from '../../src/protocol/frame.ts'
import { NO_TROUBLES, NoisyLine } from '../../src/practice-rig/rig-side/noisy-line.ts'
import { Rig } from '../../src/practice-rig/rig-side/rig.ts'
import { FakeHardware } from '../support/fake-hardware.ts'
import { rigLog } from '../support/rig-log.ts'

function noisy(troubles = NO_TROUBLES, seed = 4) {
  const hardware = new FakeHardware()
  const rig = new Rig(hardware)
  const line = new NoisyLine(rig, seededUniform(seed))
  line.setTroubles(troubles)
  const log = rigLog(hardware.channelsAt(100_000))
  let now = 0
  const wait = (sec: number) => {
    for (let ms = 0; ms < sec * 1000; ms++) {
      now += 0.001
      line.advance(now)
      log.reader.push(line.take(1e6))
    }
  }
  return { line, rig, log, wait }
}

const stream = lineOf('Q 1 stream mode=on')

describe('a bad line', () => {
  // P-2.3
  test('without troubles passes every byte', () => {
    const { line, log, wait } = noisy()
    line.receive(stream)
    wait(1)
    expect(log.samples.reduce((n, b) => n + b.count, 0)).toBeGreaterThan(9800)
    expect(log.faults).toEqual([])
  })

  // P-2.3 P-6.7 P-6.8
  const kinds = [
    { name: 'loses bytes', troubles: { ...NO_TROUBLES, lost: 1e-4 } },
    { name: 'turns bits over', troubles: { ...NO_TROUBLES, flipped: 1e-4 } },
    { name: 'adds bytes', troubles: { ...NO_TROUBLES, added: 1e-4 } },
  ]
  test.each(kinds)('that $name costs lines, each rejected one counted, and nothing is wrong', k => {
    const { line, log, wait } = noisy()
    line.receive(stream)
    wait(0.1)
    line.setTroubles(k.troubles)
    wait(5)
    const samples = log.samples.flatMap(b =>
      Array.from({ length: b.count }, (_, i) => [b.sequence + i, b.counts[3 * i + 2]!] as const),
    )
    for (const [sequence, number] of samples) {
      if (number !== sequence % 65_536) throw new Error(`sample ${sequence} reads ${number}`)
    }
    // 400 kB at 1e-4 a byte: about 40 troubles, each costs one or two lines.
    expect(log.faults.length).toBeGreaterThan(10)
    expect(log.faults.length).toBeLessThan(100)
    const lost = samples.at(-1)![0] + 1 - samples.length
    expect(lost).toBeGreaterThan(1000)
    expect(log.reader.counters.rejected).toBe(log.faults.length)
  })

  test('does the same damage for the same seed', () => {
    const once = () => {
      const { line, log, wait } = noisy({ ...NO_TROUBLES, lost: 1e-3, flipped: 1e-3 }, 9)
      line.receive(stream)
      line.receive(stream)
      wait(0.5)
      return log.faults
    }
    expect(once()).toEqual(once())
  })

  test('that stalls holds everything up, both ways, and then lets it through', () => {
    const { line, rig, log, wait } = noisy()
    line.receive(stream)
    wait(0.1)
    const before = log.samples.length
    line.stall(0.3)
    line.receive(lineOf('Q 2 arm'))
    wait(0.29)
    expect(rig.armed).toBe(false)
    expect(log.samples).toHaveLength(before)
    wait(0.02)
    expect(rig.armed).toBe(true)
    const got = log.samples.reduce((n, b) => n + b.count, 0)
    expect(got).toBeGreaterThan(3900)
    expect(log.faults).toEqual([])
  })

  test('stalls at random, as often as told', () => {
    const { line, wait } = noisy({ ...NO_TROUBLES, stallsPerSec: 5, stallSec: 0.02 })
    let stalls = 0
    let was = false
    for (let ms = 0; ms < 20_000; ms++) {
      wait(0.001)
      if (line.stalled && !was) stalls++
      was = line.stalled
    }
    expect(stalls).toBeGreaterThan(70)
    expect(stalls).toBeLessThan(130)
  })

  test('that is unplugged carries nothing either way, and the rig lives on', () => {
    const { line, rig, log, wait } = noisy()
    line.receive(lineOf('Q 1 arm'))
    wait(0.1)
    const before = log.messages.length
    line.plugged = false
    line.receive(lineOf('Q 2 alive'))
    wait(0.5)
    expect(log.messages).toHaveLength(before)
    expect(rig.armed).toBe(false) // its watchdog has seen to that
    line.plugged = true
    line.receive(lineOf('Q 3 alive'))
    wait(0.01)
    expect(log.messages.at(-1)).toMatchObject({ answer: { id: 3 } })
  })
})
