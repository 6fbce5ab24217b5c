import { simulateRun } from '../../../src/identify/simulate-run.ts'
import type { FittedOutcome } from './fitted-shelf.ts'
import type { Store } from '../../store/store.ts'

/** The fitted motor under the voltage of a stored run, beside what was measured. */
export function simulateFitted(store: Store, runId: number, fitId: number): FittedOutcome {
  const run = store.runs.testRun(runId)
  const simulated = simulateRun(store.fits.get(fitId).document, run)
  if (!simulated.ok) return { trouble: simulated.error }
  const { current, speed, voltage } = simulated.value
  return {
    recording: run.recording,
    columns: {
      ...(current ? { current } : {}),
      ...(speed && run.recording.columns.speed ? { speed } : {}),
      ...(voltage?.some(value => !Number.isNaN(value)) ? { voltage } : {}),
    },
  }
}
