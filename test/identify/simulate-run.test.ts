import { describe, expect, test } from 'vitest'
import { simulateRun } from '../../src/identify/simulate-run.ts'
import { textbookFit } from '../../src/identify/textbook-fit.ts'
import { CLEAN } from '../../src/practice-rig/imperfections.ts'
import { practiceSuite } from '../../src/practice-rig/practice-run.ts'
import type { TestRun } from '../../src/records/test-run.ts'
import { practiceMotor } from '../support/practice.ts'

const SETTINGS = { fixed: {}, freed: [], referenceTemperatureCelsius: 20 }
const runs = practiceSuite(practiceMotor('hazelnut-24'), 5, { rateHz: 5000, switches: CLEAN })
const fit = (() => {
  const result = textbookFit('hazelnut', runs, SETTINGS)
  if (!result.ok) throw new Error(result.error.text)
  return result.value
})()

function run(kind: TestRun['kind']): TestRun {
  return runs.find(one => one.kind === kind)!
}

/** Root mean square of measured − simulated over the largest measured magnitude. */
function misfit(measured: Float64Array, simulated: Float64Array): number {
  let sum = 0
  let count = 0
  let largest = 0
  for (const [i, value] of measured.entries()) {
    largest = Math.max(largest, Math.abs(value))
    if (Number.isNaN(simulated[i]!) || Number.isNaN(value)) continue
    sum += (value - simulated[i]!) ** 2
    count++
  }
  expect(count).toBeGreaterThan(0.5 * measured.length)
  return Math.sqrt(sum / count) / largest
}

// The practice rig is no code of the motor model: agreement is not built in.
describe('a fitted motor under the voltage of its own runs', () => {
  test.each(['free-run', 'run-up', 'coast-down', 'locked-rotor'] as const)(
    'draws the current of a %s to 2 % of its peak',
    kind => {
      const simulated = simulateRun(fit, run(kind))
      if (!simulated.ok) throw new Error(simulated.error)
      const measured = run(kind).recording.columns.current!
      expect(misfit(measured, simulated.value.current!)).toBeLessThan(0.02)
    },
  )

  test.each(['free-run', 'run-up', 'coast-down'] as const)(
    'reaches the speed of a %s to 1 % of its peak',
    kind => {
      const simulated = simulateRun(fit, run(kind))
      if (!simulated.ok) throw new Error(simulated.error)
      const measured = run(kind).recording.columns.speed!
      expect(misfit(measured, simulated.value.speed!)).toBeLessThan(0.01)
    },
  )

  test('a wrong inertia shows: nothing measured corrects the simulation on its way', () => {
    const { inertia } = fit.parameters
    const wrong = {
      ...fit,
      parameters: { ...fit.parameters, inertia: { ...inertia, value: 2 * inertia.value! } },
    }
    const simulated = simulateRun(wrong, run('run-up'))
    if (!simulated.ok) throw new Error(simulated.error)
    const measured = run('run-up').recording.columns.speed!
    expect(misfit(measured, simulated.value.speed!)).toBeGreaterThan(0.05)
  })

  test('says in words why a table of steady readings has no curve', () => {
    const table = { ...run('free-run'), recording: { ...run('free-run').recording, timeSec: null } }
    const simulated = simulateRun(fit, table)
    expect(simulated.ok ? '' : simulated.error).toContain('no course in time')
  })

  test('names the parameter that a run needs and the fit has not', () => {
    const bare = {
      ...fit,
      parameters: {
        ...fit.parameters,
        inertia: { ...fit.parameters.inertia, status: 'not-determined' as const, value: null },
      },
    }
    const simulated = simulateRun(bare, run('run-up'))
    expect(simulated.ok ? '' : simulated.error).toContain('rotor inertia')
    expect(simulateRun(bare, run('locked-rotor')).ok).toBe(true)
  })
})
