import type { Store } from '../../store/store.ts'
import type { HeatShelf } from '../../thermal/heat-shelf.ts'
import {
  type Recognised,
  type RecogniseOrder,
  recogniseRuns,
} from '../../thermal/recognise-runs.ts'

/** What was recognised last, by the data that it rests on: coming back to the view does not look again. */
export type RecogniseShelf = Map<string, Recognised>

const KEPT = 8

export function takeRecognised(
  store: Store,
  heats: HeatShelf,
  shelf: RecogniseShelf,
  motorName: string,
  runIds: readonly number[],
  order: RecogniseOrder,
): Recognised {
  // The heating run is read with what the newest identification knows of brushes and k.
  const fit = store.fits.latest(store.runs.get(runIds[0]!).motorId)?.id ?? null
  const key = JSON.stringify([motorName, fit, order, store.runs.inputsHash(runIds)])
  const found = shelf.get(key) ?? recogniseRuns(store, heats, motorName, runIds, order)
  shelf.delete(key)
  shelf.set(key, found)
  const oldest = shelf.keys().next().value
  if (shelf.size > KEPT && oldest !== undefined) shelf.delete(oldest)
  return found
}
