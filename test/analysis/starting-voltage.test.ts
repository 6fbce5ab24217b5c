import { expect, test } from 'vitest'
import { startingVoltages } from '../../src/analysis/starting-voltage.ts'
import type { TestRun } from '../../src/records/test-run.ts'
import { UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'
import { readSignals } from '../../src/signals/run-signals.ts'

/** Levels of voltage and what the shaft does at each; its speed moves to the new one with 20 ms. */
function signalsOf(
  levels: readonly (readonly [sec: number, volt: number, speed: number])[],
  rateHz = 1000,
) {
  const voltage: number[] = []
  const speed: number[] = []
  let w = levels[0]![2]
  for (const [sec, volt, end] of levels) {
    for (let n = 0; n < sec * rateHz; n++) {
      w += (end - w) / (0.02 * rateHz)
      voltage.push(volt)
      speed.push(w)
    }
  }
  const run: TestRun = {
    id: 1,
    kind: 'free-run',
    conditions: UNKNOWN_CONDITIONS,
    recording: {
      sampleCount: voltage.length,
      timeSec: Float64Array.from(voltage, (_, n) => n / rateHz),
      columns: { voltage: Float64Array.from(voltage), speed: Float64Array.from(speed) },
      bridge: null,
      edges: [],
      traits: {},
    },
  }
  return readSignals(run)
}

test('halfway between the step at which it stood and the first at which it turned (GUM 4.3.7)', () => {
  const [start, ...others] = startingVoltages(
    signalsOf([
      [0.3, 0, 0],
      [0.2, 0.6, 0],
      [0.2, 0.8, 0],
      [0.2, 1, 60],
      [0.2, 1.2, 80],
    ]),
  )
  expect(others).toEqual([])
  expect(start!.direction).toBe(1)
  expect(start!.volt).toBeCloseTo(0.9, 9)
  expect(start!.standardUncertainty).toBeCloseTo(0.2 / Math.sqrt(12), 9)
})

test('a recording that begins while the shaft turns, its voltage in coarse steps, tells none', () => {
  const coarse = Array.from({ length: 40 }, (_, n) => [0.002, n % 2 ? 5.9 : 6.1, 230] as const)
  expect(startingVoltages(signalsOf([...coarse, [0.3, 11, 500]], 20_000))).toEqual([])
})

test('a voltage that a supply in current limit lets up by and by tells none', () => {
  const rising = Array.from({ length: 20 }, (_, n) => [0.01, 3 + 0.45 * n, 15 * n] as const)
  expect(startingVoltages(signalsOf([[0.3, 0, 0], ...rising, [0.5, 12, 390]]))).toEqual([])
})
