import type { Result } from '../../src/base/result.ts'
import type { RecogniseDocument } from '../../src/contract/recognise-document.ts'
import { recognise } from '../../src/recognise/recognise.ts'
import type { Store } from '../store/store.ts'
import type { HeatShelf } from './heat-shelf.ts'
import { newestHeat } from './newest-heat.ts'

/** Temperature to which the proposed plate refers. */
const PLATE_CELSIUS = 20

export interface RecogniseOrder {
  /** For the plate; null: proposed. */
  readonly ratedVolt: number | null
  /** Air around the motor in use, for the continuous current. */
  readonly ambientCelsius: number
}

export interface Recognised {
  readonly found: Result<RecogniseDocument, string>
  /** Where the continuous current comes from, or why there is none. */
  readonly notes: string[]
}

/** What these runs of a motor show, the newest heating run among them giving the continuous current. */
export function recogniseRuns(
  store: Store,
  shelf: HeatShelf,
  motorName: string,
  runIds: readonly number[],
  { ratedVolt, ambientCelsius }: RecogniseOrder,
): Recognised {
  const newest = newestHeat(store, shelf, runIds, ambientCelsius)
  const heat = newest?.found.ok ? newest.found.value : null
  const trouble = newest && !newest.found.ok ? newest.found.error : null
  const found = recognise(
    motorName,
    runIds.map(id => store.runs.testRun(id)),
    heat,
    { ratedVolt, referenceCelsius: PLATE_CELSIUS },
  )
  const notes = [
    ...(newest?.notes ?? []),
    ...(trouble === null ? [] : [`run ${newest!.run} gives no continuous current: ${trouble}`]),
  ]
  return { found, notes }
}
