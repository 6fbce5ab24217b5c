import { describe, expect, test } from 'vitest'
import { breakAwayCurrent, breakAways } from '../../src/analysis/break-away.ts'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import { type TestRun, UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'
import { readSignals } from '../../src/signals/run-signals.ts'

const RATE_HZ = 1000
const OHM = 2
const CONSTANT = 0.02
const STATIC_NM = 0.008
const SLIDING_NM = 0.005
const OFFSET_NM = 0.0006

/** Equations of a motor that sticks, by short steps of time: i = (v − k ω)/R, J ω' = k i − friction − offset. */
function recorded(voltAt: (sec: number) => number, sec: number): TestRun {
  const normal = seededNormal(seededUniform(5))
  const count = Math.round(sec * RATE_HZ)
  const [voltage, current, speed] = [0, 1, 2].map(() => new Float64Array(count)) as [
    Float64Array,
    Float64Array,
    Float64Array,
  ]
  const timeSec = Float64Array.from({ length: count }, (_, i) => i / RATE_HZ)
  let omega = 0
  const parts = 20
  for (let i = 0; i < count; i++) {
    const volt = voltAt(timeSec[i]!)
    let amp = 0
    for (let part = 0; part < parts; part++) {
      amp = (volt - CONSTANT * omega) / OHM
      const drive = CONSTANT * amp - OFFSET_NM
      if (omega === 0 && Math.abs(drive) <= STATIC_NM) continue
      const way = omega === 0 ? Math.sign(drive) : Math.sign(omega)
      const next = omega + ((drive - way * SLIDING_NM) / 5e-6) * (1 / RATE_HZ / parts)
      omega = omega !== 0 && Math.sign(next) !== Math.sign(omega) ? 0 : next
    }
    voltage[i] = volt + 0.003 * normal()
    current[i] = amp + 0.002 * normal()
    speed[i] = omega + 0.1 * normal()
  }
  return {
    id: 1,
    kind: 'free-run',
    conditions: UNKNOWN_CONDITIONS,
    recording: {
      sampleCount: count,
      timeSec,
      columns: { voltage, current, speed },
      bridge: null,
      edges: [],
      traits: {},
    },
  }
}

const found = (voltAt: (sec: number) => number, sec: number) =>
  breakAways(readSignals(recorded(voltAt, sec)))

describe('the current at which a resting shaft breaks away', () => {
  // k i = T_s + T_offset one way and T_s − T_offset the other: the definition of static friction.
  const expected = {
    forward: (STATIC_NM + OFFSET_NM) / CONSTANT,
    backward: (STATIC_NM - OFFSET_NM) / CONSTANT,
  }

  test('a slow ramp each way brackets it, and their middle is free of the offset torque', () => {
    const ramps = found(t => (t < 4 ? 0.3 * t : t < 5 ? 0 : -0.3 * (t - 5)), 9)
    expect(ramps.map(({ direction }) => direction)).toEqual([1, -1])
    const [forward, backward] = ramps
    expect(Math.abs(forward!.amp / expected.forward - 1)).toBeLessThan(0.02)
    expect(Math.abs(backward!.amp / expected.backward - 1)).toBeLessThan(0.02)
    const { value, standardUncertainty } = breakAwayCurrent(ramps)!
    expect(Math.abs(CONSTANT * value - STATIC_NM)).toBeLessThan(2 * CONSTANT * standardUncertainty)
    expect(standardUncertainty / value).toBeLessThan(0.05)
  })

  test('a stair brackets it between two of its steps', () => {
    const [one] = found(t => 0.1 * Math.floor(t / 0.3), 4)
    const distance = Math.abs(one!.amp - expected.forward)
    expect(distance).toBeLessThan(2 * one!.standardUncertainty)
    expect(one!.standardUncertainty).toBeGreaterThan(0.1 / OHM / 2 / Math.sqrt(12))
  })

  test('a shaft whose speed is only read when it turns shows no start', () => {
    const run = recorded(t => 0.3 * t, 4)
    const speed = run.recording.columns.speed!.map(value => (value > 40 ? value : Number.NaN))
    const { recording } = run
    const blind = { ...run, recording: { ...recording, columns: { ...recording.columns, speed } } }
    expect(breakAways(readSignals(blind))).toEqual([])
  })

  test('a shaft that turns round stands for a moment only', () => {
    expect(found(t => (t < 1 ? 3 : 3 - 40 * Math.min(t - 1, 0.15)), 2)).toEqual([])
  })

  test('a shaft that is started at once brackets nothing', () => {
    expect(found(t => (t < 0.5 ? 0 : 3), 1.5)).toEqual([])
    expect(breakAwayCurrent([])).toBeNull()
  })
})
