import { expect, test } from 'vitest'
import { practiceRun } from '../../src/practice-rig/practice-run.ts'
import { findPhases } from '../../src/signals/phases.ts'
import { readSignals } from '../../src/signals/run-signals.ts'
import { screenRun } from '../../src/signals/screen-run.ts'
import { steadyLevels } from '../../src/signals/steady-levels.ts'
import { practiceMotor } from '../support/practice.ts'

const run = practiceRun(practiceMotor('hazelnut-24'), 'free-run', 3, { rateHz: 1000 })

test('a run is read, screened and cut up once for the same zeros', () => {
  const zeros = { current: 0.01 }
  const signals = readSignals(run, zeros)
  expect(readSignals(run, { current: 0.01, voltage: 0 })).toBe(signals)
  expect(screenRun(run, zeros)).toBe(screenRun(run, { ...zeros }))
  expect(findPhases(signals)).toBe(findPhases(signals))
  expect(steadyLevels(signals)).toBe(steadyLevels(signals))
})

test('other zeros and other runs are read anew', () => {
  const first = readSignals(run).current!.values[0]!
  expect(readSignals(run, { current: 0.5 }).current!.values[0]).toBe(first - 0.5)
  expect(readSignals(run, { current: 0.25 }).current!.values[0]).toBe(first - 0.25)
  const doubled = run.recording.columns.current!.map(value => 2 * value)
  const columns = { ...run.recording.columns, current: doubled }
  const other = { ...run, recording: { ...run.recording, columns } }
  expect(readSignals(other).current!.values[0]).toBe(2 * first)
})
