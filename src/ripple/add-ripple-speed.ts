import { analyseLockedRotor } from '../analysis/locked-rotor.ts'
import type { TestRun } from '../records/test-run.ts'
import type { RippleSettings } from './ripple-settings.ts'
import { withRippleSpeed } from './with-ripple-speed.ts'

export interface RunsWithSpeed {
  readonly runs: readonly TestRun[]
  readonly notes: readonly { readonly code: string; readonly text: string; readonly run: number }[]
  /** Runs that got a speed. */
  readonly spoken: readonly number[]
}

const TURNING = new Set<TestRun['kind']>(['free-run', 'run-up', 'coast-down', 'load', 'mixed'])

/** What a locked-rotor test among the runs says of resistance, brushes and inductance, where it is not known already. */
export function fromStalls(runs: readonly TestRun[], settings: RippleSettings): RippleSettings {
  if (settings.resistanceOhm !== null) return settings
  for (const run of runs) {
    if (run.kind !== 'locked-rotor') continue
    const analysis = analyseLockedRotor(run)
    if (!analysis.ok) continue
    const { resistance, brushDrop, inductance } = analysis.value.values
    if (resistance === undefined) continue
    return {
      ...settings,
      resistanceOhm: resistance.value,
      brushDropVolt: Math.max(0, brushDrop?.value ?? 0),
      inductanceHenry: inductance?.value ?? settings.inductanceHenry,
    }
  }
  return settings
}

/**
 * Gives every turning run that has neither speed nor position a speed from its ripple. A run whose ripple tells nothing stays
 * as it is, and a note says why.
 */
export function addRippleSpeed(runs: readonly TestRun[], settings: RippleSettings): RunsWithSpeed {
  const known = fromStalls(runs, settings)
  const notes: RunsWithSpeed['notes'][number][] = []
  const spoken: number[] = []
  const out = runs.map(run => {
    const { speed, position } = run.recording.columns
    if (speed || position || !TURNING.has(run.kind)) return run
    const found = withRippleSpeed(run, known)
    if (!found.ok) {
      notes.push({
        code: found.error.code,
        text: `no speed from the ripple: ${found.error.text}`,
        run: run.id,
      })
      return run
    }
    for (const warning of found.value.warnings) notes.push({ ...warning, run: run.id })
    spoken.push(run.id)
    return found.value.run
  })
  return { runs: out, notes, spoken }
}
