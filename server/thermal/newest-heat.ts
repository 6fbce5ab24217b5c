import type { Result } from '../../src/base/result.ts'
import type { HeatDocument } from '../../src/contract/heat-document.ts'
import type { WindingHeat } from '../../src/contract/withstand-document.ts'
import { heatDocumentOf } from '../../src/thermal/heat-report.ts'
import { INSULATION_CLASSES, insulationClass, USUAL_CLASS } from '../../src/thermal/insulation.ts'
import type { Store } from '../store/store.ts'
import { type HeatShelf, takeHeat } from './heat-shelf.ts'

export interface NewestHeat {
  readonly run: number
  readonly found: Result<HeatDocument, string>
  readonly notes: readonly string[]
}

/** What the newest heating run among these tells; null where there is none. */
export function newestHeat(
  store: Store,
  shelf: HeatShelf,
  runIds: readonly number[],
  ambientCelsius: number,
): NewestHeat | null {
  const heating = runIds.filter(id => store.runs.get(id).kind === 'heating')
  if (heating.length === 0) return null
  const insulation = insulationClass(USUAL_CLASS)
  if (!insulation.ok) throw new RangeError(`USUAL_CLASS is none of ${INSULATION_CLASSES.join()}`)
  const run = Math.max(...heating)
  const { known, fitted } = takeHeat(store, shelf, run, { speed: 0, contactOhm: null })
  if (!fitted.ok) return { run, found: fitted, notes: known.notes }
  const document = heatDocumentOf(fitted.value, {
    ...known,
    insulation: insulation.value,
    ambientCelsius,
    stall: null,
    contactOhm: null,
    declaredMagnets: null,
  })
  return { run, found: { ok: true, value: document }, notes: known.notes }
}

export interface ToldHeat {
  /** Null where there is no heating run, or it does not tell it. */
  readonly heat: WindingHeat | null
  /** In words: from which run, or why not; null where there is none. */
  readonly note: string | null
}

/** Heat capacity of a motor's winding from its newest heating run. */
export function toldWindingHeat(store: Store, shelf: HeatShelf, motorId: number): ToldHeat {
  const ids = store.runs.list({ motorId }).map(({ id }) => id)
  const run = Math.max(...ids.filter(id => store.runs.get(id).kind === 'heating'))
  if (!Number.isFinite(run)) return { heat: null, note: null }
  const { fitted } = takeHeat(store, shelf, run, { speed: 0, contactOhm: null })
  const told = fitted.ok ? fitted.value.numbers.windingHeat : null
  if (!told || told.value === null) {
    const reason = fitted.ok ? fitted.value.numbers.windingHeat.reason : fitted.error
    return {
      heat: null,
      note: `heating run ${run} does not tell the winding's heat capacity: ${reason}`,
    }
  }
  return {
    heat: {
      joulePerKelvin: told.value,
      standardUncertainty: told.standardUncertainty ?? 0,
      run,
    },
    note: `heat capacity of the winding from heating run ${run}`,
  }
}
