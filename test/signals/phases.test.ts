import { describe, expect, test } from 'vitest'
import { BRIDGE, type Recording } from '../../src/records/recording.ts'
import { voltageJumps } from '../../src/signals/jumps.ts'
import { findPhases } from '../../src/signals/phases.ts'
import { readSignals } from '../../src/signals/run-signals.ts'
import { steadyLevels } from '../../src/signals/steady-levels.ts'
import { expectRelative } from '../support/expect-relative.ts'
import {
  asRun,
  asTable,
  type IdealStep,
  simulateMotor,
  typicalMotor,
} from '../support/simulate-motor.ts'

const motor = typicalMotor(20, 12)
const NOISE = { volt: 0.02, amp: 0.02, radPerSec: 1 }
const on = (volt: number, sec: number): IdealStep => ({ bridge: 'drive', volt, sec })
const coast = (sec: number): IdealStep => ({ bridge: 'coast', volt: 0, sec })
const phasesOf = (recording: Recording) => findPhases(readSignals(asRun(1, 'mixed', recording)))
const kinds = (recording: Recording) => phasesOf(recording).phases.map(({ kind }) => kind)

describe('phases that the recording does not tell', () => {
  test('rest, two drives and a coast to rest are found in noise', () => {
    const steps = [on(0, 0.2), on(6, 0.8), on(12, 0.8), coast(2.5)]
    const recording = simulateMotor(motor, steps, 2000, { noise: NOISE })
    const { phases, inferred } = phasesOf(recording)
    expect(inferred).toBe(true)
    expect(phases.filter(p => p.end - p.start > 40).map(p => p.kind)).toEqual([
      'standstill',
      'drive',
      'drive',
      'coast',
      'standstill',
    ])
    const open = phases.find(({ kind }) => kind === 'coast')!
    expect(Math.abs(open.start - 3600)).toBeLessThan(12)
  })

  test('a motor that runs idle on very little current is not coasting', () => {
    const easy = { ...motor, coulomb: motor.coulomb / 20, viscous: 0, windage: 0 }
    expect(kinds(simulateMotor(easy, [on(12, 1.5)], 2000, { noise: NOISE }))).not.toContain('coast')
  })

  test('a current that passes through nil at a reversal is not a coast', () => {
    const recording = simulateMotor(motor, [on(12, 0.6), on(-12, 0.8)], 2000)
    expect(kinds(recording)).not.toContain('coast')
  })

  test('a shorted winding brakes', () => {
    const recording = simulateMotor(motor, [on(12, 0.6), on(0, 0.3)], 5000)
    expect(kinds(recording)).toContain('brake')
  })

  test('a hand-read table has none', () => {
    const table = asTable(1, 'free-run', { voltage: Float64Array.of(1, 2) })
    expect(findPhases(readSignals(table)).phases).toEqual([])
  })
})

describe('phases that the recording tells', () => {
  const recording = simulateMotor(motor, [on(6, 0.5), on(12, 0.5), coast(0.5)], 1000)
  const bridge = Uint8Array.from(recording.timeSec!, t => (t < 1 ? BRIDGE.drive : BRIDGE.coast))

  test('the bridge column is believed', () => {
    const { phases, inferred } = phasesOf({ ...recording, bridge })
    expect(inferred).toBe(false)
    expect(phases.map(({ kind, start, end }) => [kind, start, end])).toEqual([
      ['drive', 0, 500],
      ['drive', 500, 1000],
      ['coast', 1000, 1500],
    ])
  })

  test('logged edges cut, and a reading stamped with the time of an edge belongs to what was before', () => {
    const edges = [{ timeSec: 0.25, state: 'drive' as const, setVolt: 6 }]
    const { phases } = phasesOf({ ...recording, bridge, edges })
    expect(phases[1]).toEqual({ kind: 'drive', start: 251, end: 1000, edgeSec: 0.25 })
  })

  test('unknown codes are inferred', () => {
    const codes = bridge.map(code => (code === BRIDGE.coast ? BRIDGE.unknown : code))
    const { phases, inferred } = phasesOf({ ...recording, bridge: codes })
    expect(inferred).toBe(true)
    expect(phases.at(-1)!.kind).toBe('coast')
  })
})

describe('jumps of the voltage', () => {
  const column = (length: number, of: (n: number) => number) =>
    Float64Array.from({ length }, (_, n) => of(n))

  test('are found at their first new sample', () => {
    expect(voltageJumps(column(300, n => (n < 100 ? 2 : n < 200 ? 4 : 3)))).toEqual([100, 200])
  })

  test('one that takes three samples counts once', () => {
    expect(voltageJumps(column(300, n => Math.min(6, Math.max(0, 2 * (n - 100)))))).toEqual([103])
  })

  test('a ramp has none', () => {
    expect(voltageJumps(column(50, n => 0.25 * n))).toEqual([])
  })
})

describe('steady levels', () => {
  const levelsOf = (recording: Recording) =>
    steadyLevels(readSignals(asRun(1, 'free-run', recording)))

  test('begin after the transient and carry mean and uncertainty', () => {
    const recording = simulateMotor(motor, [on(6, 1), on(12, 1)], 2000, { noise: NOISE })
    const levels = levelsOf(recording)
    expect(levels).toHaveLength(2)
    for (const level of levels) {
      expect(level.settled).toBe(true)
      const tail = recording.columns.speed!.subarray(level.end - 200, level.end)
      const last = tail.reduce((sum, w) => sum + w, 0) / tail.length
      expect(Math.abs(level.speed!.value - last)).toBeLessThan(
        4 * (level.speed!.standardUncertainty + NOISE.radPerSec / Math.sqrt(200)),
      )
    }
  })

  test('a phase too short to settle has none', () => {
    expect(levelsOf(simulateMotor(motor, [on(12, 0.02)], 5000))).toEqual([])
  })

  test('a ramp gives many, marked as not settled', () => {
    const ramp = Array.from({ length: 100 }, (_, n) => on(0.12 * (n + 1), 0.02))
    const levels = levelsOf(simulateMotor(motor, ramp, 1000, { noise: NOISE }))
    expect(levels.length).toBeGreaterThan(15)
    expect(levels.some(level => level.settled)).toBe(false)
    expectRelative(levels.at(-1)!.speed!.slopePerSec, 0.12 / 0.02 / motor.k, 0.1)
  })

  test('slow warming is drift, and its slope is kept', () => {
    const timeSec = Float64Array.from({ length: 2000 }, (_, n) => n / 1000)
    const recording: Recording = {
      sampleCount: 2000,
      timeSec,
      columns: { voltage: timeSec.map(() => 6), current: timeSec.map(t => 3 - 0.1 * t) },
      bridge: null,
      edges: [],
      traits: {},
    }
    const [level] = levelsOf(recording)
    expectRelative(level!.current!.slopePerSec, -0.1, 1e-6)
    expectRelative(level!.current!.value, 2.9, 1e-3)
  })
})
