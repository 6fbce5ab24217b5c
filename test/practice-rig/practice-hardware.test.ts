import { describe, expect, test } from 'vitest'
import { countToSi } from '../../src/protocol/counts.ts'
import { defaultBench } from '../../src/practice-rig/default-bench.ts'
import { createPracticeHardware } from '../../src/practice-rig/practice-hardware.ts'
import { MOTOR_FILES, practiceMotor } from '../support/practice.ts'

describe('hardware of a practice rig', () => {
  test.each(MOTOR_FILES)('%s: what the rig allows, its sensors can show', file => {
    const motor = practiceMotor(file.replace('.json', ''))
    const { limits, periodsNs, channelsAt, burstChannels } = createPracticeHardware(
      motor,
      defaultBench(motor, { position: true }),
      1,
    )
    expect(limits.driveVolt).toBeGreaterThanOrEqual(motor.rating.voltageVolt)
    for (const channels of [burstChannels, ...periodsNs.map(channelsAt)]) {
      const highest = (quantity: string) => {
        const channel = channels.find(c => c.quantity === quantity)!
        return countToSi(channel, channel.highCount)
      }
      expect(highest('voltage')).toBeGreaterThan(limits.driveVolt)
      expect(highest('current')).toBeGreaterThan(limits.currentAmp)
      expect(highest('speed')).toBeGreaterThan(limits.speedRadPerSec!)
      expect(channels.every(c => c.bits <= 16)).toBe(true)
    }
  })

  test('declares itself simulated and gives 10 kS/s', () => {
    const motor = practiceMotor('juniper-36')
    const hardware = createPracticeHardware(motor, defaultBench(motor), 7)
    expect(hardware.identity.simulated).toBe(true)
    expect(hardware.periodsNs).toContain(100_000)
    expect(hardware.markZero()).toBe(false)
  })

  test('voltage and current are averaged over the period in force, speed over the encoder window', () => {
    const motor = practiceMotor('juniper-36')
    const hardware = createPracticeHardware(motor, defaultBench(motor), 7)
    const [voltage, current, speed] = hardware.channelsAt(200_000)
    expect(voltage!.apertureSec).toBeCloseTo(200e-6, 12)
    expect(current!.apertureSec).toBeCloseTo(200e-6, 12)
    expect(speed!.apertureSec).toBeCloseTo(1e-3, 12)
  })
})
