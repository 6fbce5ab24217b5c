import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { practiceMotorFile } from '../../src/contract/practice-motor.ts'
import { defaultBench, stallAmp } from '../../src/practice-rig/default-bench.ts'
import { createPracticeHardware } from '../../src/practice-rig/practice-hardware.ts'
import type { Shaft } from '../../src/practice-rig/plant.ts'
import { countToSi } from '../../src/protocol/counts.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { RigDesk } from '../support/rig-desk.ts'

const file = new URL('../../datasets/motors/dormouse-12.json', import.meta.url)
const motor = practiceMotorFile.parse(JSON.parse(readFileSync(file, 'utf8')))
const bench = defaultBench(motor, { position: true })

function benchWith(shaft: Shaft) {
  const hardware = createPracticeHardware(motor, bench, 5)
  hardware.plant.setShaft(shaft)
  const desk = new RigDesk(hardware)
  const channels = hardware.channelsAt(100_000)
  desk.log.reader.setLayout(channels, hardware.burstChannels)
  desk.ask({ verb: 'sampling', periodNs: 100_000, format: 'block', channelMask: 15 })
  desk.ask({ verb: 'arm' })
  const column = (quantity: string) => {
    const c = channels.findIndex(channel => channel.quantity === quantity)
    return desk.log.samples.flatMap(batch =>
      Array.from({ length: batch.count }, (_, k) =>
        countToSi(channels[c]!, batch.counts[k * channels.length + c]!),
      ),
    )
  }
  return { hardware, desk, column }
}

const mean = (values: readonly number[]) => values.reduce((a, b) => a + b, 0) / values.length

describe('a practice rig with a motor behind it', () => {
  test('shows the stall current of a held shaft, and a burst shows how it rises', () => {
    const { hardware, desk, column } = benchWith({ hold: 'locked', angleRad: 0.3 })
    const setVolt = 0.2 * motor.rating.voltageVolt
    desk.ask({ verb: 'burst', samples: 1000, before: 100, trigger: 'bridge' })
    desk.wait(0.002)
    desk.ask({ verb: 'stream', on: true })
    desk.drive({ setVolt, durationSec: 0.05, currentLimitAmp: 2 * stallAmp(motor) * 0.4 })
    desk.wait(0.04)
    const amps = column('current')
    const volts = column('voltage')
    const settled = mean(amps.slice(-100))
    // Brushes take their share: between the copper alone and half of that.
    expect(settled).toBeLessThan(setVolt / motor.winding.copperOhm)
    expect(settled).toBeGreaterThan(0.5 * setVolt * (stallAmp(motor) / motor.rating.voltageVolt))
    expect(mean(volts.slice(-100))).toBeGreaterThan(0.9 * setVolt)
    expect(mean(volts.slice(-100))).toBeLessThan(1.01 * setVolt)
    desk.wait(0.02)
    const [ready] = desk.eventsOf('burst-ready')
    expect(ready).toMatchObject({ samples: 1000, before: 100 })
    desk.ask({ verb: 'upload', from: 0, samples: 1000 })
    const wide = hardware.burstChannels
    const rise = desk.log.uploads.flatMap(piece =>
      Array.from({ length: piece.count }, (_, k) =>
        countToSi(wide[1]!, piece.counts[k * wide.length + 1]!),
      ),
    )
    expect(rise).toHaveLength(1000)
    expect(Math.abs(mean(rise.slice(0, 99)))).toBeLessThan(0.02 * settled)
    expectRelative(mean(rise.slice(-100)), settled, 0.05)
    expect(desk.log.faults).toEqual([])
  })

  test('turns a free shaft, counts its position, and lets it run down in coast', () => {
    const { desk, column } = benchWith({ hold: 'free' })
    desk.ask({ verb: 'stream', on: true })
    desk.drive({
      setVolt: 0.3 * motor.rating.voltageVolt,
      durationSec: 0.25,
      currentLimitAmp: stallAmp(motor),
    })
    desk.stayAlive(0.4)
    const speed = column('speed')
    const top = Math.max(...speed)
    expect(top).toBeGreaterThan(10)
    expect(speed.at(-1)!).toBeLessThan(0.95 * top)
    expect(mean(column('current').slice(-200))).toBeLessThan(0.01)
    expect(desk.eventsOf('trip')).toEqual([])
    expect(desk.eventsOf('index').length).toBeGreaterThan(0)
  })

  // P-5.4 P-5.6
  test('has one voltage and one current, and periods that are multiples of the burst', () => {
    const { hardware } = benchWith({ hold: 'free' })
    const channels = hardware.channelsAt(hardware.periodsNs[0]!)
    expect(channels.map(c => c.index)).toEqual(channels.map((_, i) => i))
    for (const quantity of ['voltage', 'current']) {
      expect(channels.filter(c => c.quantity === quantity)).toHaveLength(1)
    }
    for (const period of hardware.periodsNs) {
      expect(period % (hardware.limits.burst?.periodNs ?? 1)).toBe(0)
    }
  })

  // P-8.5
  test('trips within 50 µs when the inrush exceeds the limit of the command', () => {
    const { hardware, desk } = benchWith({ hold: 'locked', angleRad: 0 })
    const currentLimitAmp = Math.round(1000 * 0.2 * stallAmp(motor)) / 1000
    const answer = desk.drive({ setVolt: 0.8 * motor.rating.voltageVolt, currentLimitAmp })
    desk.wait(0.02)
    const [trip] = desk.eventsOf('trip')
    expect(trip).toMatchObject({ code: 'over-current', limit: currentLimitAmp })
    // The current rises no faster than voltage over inductance.
    const steepest = (0.8 * motor.rating.voltageVolt) / motor.winding.inductanceHenry
    expect(trip!.value - currentLimitAmp).toBeGreaterThan(0)
    expect(trip!.value - currentLimitAmp).toBeLessThan(50e-6 * steepest)
    if (answer.kind === 'ok') expect(trip!.timeUs).toBeGreaterThan(answer.timeUs)
    expect(hardware.plant.state()).toMatchObject({ bridge: 'coast' })
    expect(Math.abs(hardware.plant.state().currentAmp)).toBeLessThan(0.01)
  })
})
