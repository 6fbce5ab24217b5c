import type { Result } from '../../src/base/result.ts'
import { type FittedHeat, fitHeatRun } from '../../src/thermal/fit-heat-run.ts'
import type { Store } from '../store/store.ts'
import { type HeatKnowledge, heatKnowledge } from './heat-knowledge.ts'

export interface HeatWish {
  /** In use, rad/s. */
  readonly speed: number
  /** Of brushes and leads; null: a usual share. */
  readonly contactOhm: number | null
}

export interface TakenHeat {
  readonly known: HeatKnowledge
  readonly fitted: Result<FittedHeat, string>
}

/** Heating runs as fitted last: another class or another air does not fit them anew. */
export type HeatShelf = Map<string, Result<FittedHeat, string>>

const KEPT = 8

/** A heating run with what is known beside it; fitted where the shelf does not have it from the same data. */
export function takeHeat(
  store: Store,
  shelf: HeatShelf,
  runId: number,
  { speed, contactOhm }: HeatWish,
): TakenHeat {
  const known = heatKnowledge(store, runId, speed)
  const { run, brushDrop, backEmfConstant } = known
  const inputs = { contactOhm, brushDrop, backEmfConstant, zeros: known.zeros }
  const key = `${store.runs.inputsHash([runId])}/${JSON.stringify(inputs)}`
  const fitted = shelf.get(key) ?? fitHeatRun(run, { ...known, contactOhm }, known.zeros)
  shelf.delete(key)
  shelf.set(key, fitted)
  const oldest = shelf.keys().next().value
  if (shelf.size > KEPT && oldest !== undefined) shelf.delete(oldest)
  return { known, fitted }
}
