import { InputFault } from '../../src/base/faults.ts'
import type { MotorModel } from '../../src/contract/motor-model.ts'
import { motorModelOf } from '../../src/output/model/motor-model.ts'
import { testedSpans } from '../../src/output/model/tested-spans.ts'
import type { Recording } from '../../src/records/recording.ts'
import type { Store, StoredFit } from '../store/store.ts'

/** The model of an identification, with the spans that its runs covered as far as they are in the store. */
export function storedModel(store: Store, fit: StoredFit): MotorModel {
  const model = motorModelOf(fit.document, {
    fit: fit.id,
    tested: testedSpans(recordings(store, fit.runIds)),
  })
  if (!model.ok) throw new InputFault(model.error)
  return model.value
}

function* recordings(store: Store, runIds: readonly number[]): Generator<Recording> {
  const known = new Set(store.runs.list().map(run => run.id))
  for (const id of runIds) if (known.has(id)) yield* store.runs.pieces(id)
}
