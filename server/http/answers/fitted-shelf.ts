import type { Quantity } from '../../../src/records/quantity.ts'
import type { Recording } from '../../../src/records/recording.ts'
import type { Store } from '../../store/store.ts'

/** A run beside what the fitted motor does under the same voltage, sample by sample. */
export interface FittedRun {
  readonly recording: Recording
  readonly columns: Readonly<Partial<Record<Quantity, Float64Array>>>
}

export type FittedOutcome = FittedRun | { readonly trouble: string }

/** Simulates on first demand and keeps the latest few: zooming does not simulate again. */
export interface FittedShelf {
  take(store: Store, runId: number, fitId: number): FittedOutcome
}

export type Simulate = (store: Store, runId: number, fitId: number) => FittedOutcome

/** Samples that may be kept, over all runs on the shelf: some 60 bytes each. */
const KEPT_SAMPLES = 6_000_000

export function createFittedShelf(simulate: Simulate): FittedShelf {
  const kept = new Map<string, FittedOutcome>()
  const size = (outcome: FittedOutcome) =>
    'recording' in outcome ? outcome.recording.sampleCount : 0
  return {
    take(store, runId, fitId) {
      const key = `${fitId}/${store.runs.inputsHash([runId])}`
      const found = kept.get(key)
      kept.delete(key)
      const outcome = found ?? simulate(store, runId, fitId)
      kept.set(key, outcome)
      let total = [...kept.values()].reduce((sum, one) => sum + size(one), 0)
      for (const [oldKey, old] of kept) {
        if (total <= KEPT_SAMPLES || oldKey === key) break
        kept.delete(oldKey)
        total -= size(old)
      }
      return outcome
    },
  }
}
