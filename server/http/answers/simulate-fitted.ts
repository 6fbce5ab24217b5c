import { simulateRun } from '../../../src/identify/simulate-run.ts'
import type { FittedOutcome } from './fitted-shelf.ts'
import type { Store } from '../../store/store.ts'

/** Simulating takes about a second a million samples, and some 60 bytes a sample while it is kept. */
const MOST_SAMPLES = 3_000_000

/** The fitted motor under the voltage of a stored run, beside what was measured. */
export function simulateFitted(store: Store, runId: number, fitId: number): FittedOutcome {
  const { sampleCount } = store.runs.get(runId)
  if (sampleCount > MOST_SAMPLES) {
    return {
      trouble: `The run has ${sampleCount} samples; fitted curves are laid over up to ${MOST_SAMPLES}. Export a part of it and import that as a run of its own.`,
    }
  }
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
