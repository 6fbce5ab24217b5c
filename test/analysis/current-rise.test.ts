import { describe, expect, test } from 'vitest'
import { fitCurrentRise } from '../../src/analysis/current-rise.ts'
import { findPhases } from '../../src/signals/phases.ts'
import { readSignals } from '../../src/signals/run-signals.ts'
import type { Recording } from '../../src/records/recording.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { asRun } from '../support/simulate-motor.ts'

const NO_BRUSH = { dropVolt: 0, kneeAmp: 0 }

/** Textbook rise of the current in a coil, from the third sample on. */
function rise(volt: number, ohm: number, henry: number, perTau: number, taus = 12): Recording {
  const tau = henry / ohm
  const sampleCount = Math.round(perTau * taus) + 3
  const timeSec = Float64Array.from({ length: sampleCount }, (_, n) => (n * tau) / perTau)
  const on = timeSec[3]!
  const since = timeSec.map(t => t - on)
  return {
    sampleCount,
    timeSec,
    columns: {
      voltage: since.map(t => (t < 0 ? 0 : volt)),
      current: since.map(t => (t < 0 ? 0 : (-volt / ohm) * Math.expm1(-t / tau))),
    },
    bridge: null,
    edges: [],
    traits: {},
  }
}

function fitted(recording: Recording) {
  const signals = readSignals(asRun(1, 'locked-rotor', recording))
  const phase = findPhases(signals).phases.find(({ kind }) => kind === 'drive')!
  return { phase, signals, result: fitCurrentRise(signals, phase, NO_BRUSH) }
}

describe('current rise against worked examples (J. O. Bird, Electrical Circuit Theory and Technology, ch. 17)', () => {
  const examples = [
    { name: 'example 7', henry: 0.1, ohm: 20, volt: 60, taus: 2, amp: 2.59, source: 'p. 270' },
    { name: 'example 8', henry: 0.04, ohm: 10, volt: 120, taus: 1, amp: 7.59, source: 'p. 271' },
    { name: 'example 9', henry: 3, ohm: 15, volt: 120, taus: 1.5, amp: 6.21, source: 'p. 271' },
  ]
  test.each(examples)('$name ($source): L $henry H, $amp A after $taus τ', example => {
    const { result } = fitted(rise(example.volt, example.ohm, example.henry, 20))
    expectRelative(result!.inductanceHenry.value, example.henry, 1e-6)
    const at = 3 + Math.round(example.taus * 20) - result!.start
    expect(Math.abs(result!.fittedAmp[at]! - example.amp)).toBeLessThan(0.0051)
  })
})

describe('what the samples allow', () => {
  test('five samples within a time constant are enough', () => {
    expectRelative(fitted(rise(12, 2, 1e-3, 5)).result!.inductanceHenry.value, 1e-3, 1e-4)
  })

  test('one sample a time constant is not, without the time of the edge', () => {
    expect(fitted(rise(12, 2, 1e-3, 1)).result).toBeNull()
  })

  test('with the time of the edge it is, and the current before counts', () => {
    const coarse = rise(12, 2, 1e-3, 1.2)
    const before = 6
    const pad = (column: Float64Array) => Float64Array.from([...Array(before).fill(0), ...column])
    const dt = coarse.timeSec![1]!
    const timeSec = Float64Array.from({ length: coarse.sampleCount + before }, (_, n) => n * dt)
    const edgeSec = (before + 3) * dt
    // The edge falls between two samples: what was simulated from the third sample on starts there.
    const recording: Recording = {
      ...coarse,
      sampleCount: coarse.sampleCount + before,
      timeSec: timeSec.map(t => t + 1e-12),
      columns: {
        voltage: pad(coarse.columns.voltage!),
        current: pad(coarse.columns.current!),
      },
      edges: [{ timeSec: edgeSec, state: 'drive', setVolt: 12 }],
    }
    expectRelative(fitted(recording).result!.inductanceHenry.value, 1e-3, 1e-3)
  })

  test('a voltage that sags with the current does not shift L', () => {
    // Behind a source of half the winding's resistance the rise is a third faster: not L/R any more.
    const recording = rise(12, 3, 1e-3, 30)
    const current = recording.columns.current!
    const sagged = {
      ...recording,
      columns: { current, voltage: current.map((amp, n) => (n < 3 ? 0 : 12 - 1 * amp)) },
    }
    expectRelative(fitted(sagged).result!.inductanceHenry.value, 1e-3, 1e-3)
  })
})
