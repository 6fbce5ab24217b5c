import type { Store } from '../../store/store.ts'
import type { QuestionName, StoreQuestions } from '../ask-store.ts'
import type { HeatShelf } from '../../thermal/heat-shelf.ts'
import type { FittedShelf } from './fitted-shelf.ts'
import type { RecogniseShelf } from './recognise-shelf.ts'

/** What the answers are written from. */
export interface Library {
  readonly store: Store
  readonly fitted: FittedShelf
  readonly heats: HeatShelf
  readonly recognised: RecogniseShelf
}

export type Answers = {
  readonly [N in QuestionName]: (
    library: Library,
    input: StoreQuestions[N]['input'],
  ) => StoreQuestions[N]['answer'] | Promise<StoreQuestions[N]['answer']>
}

/** Numbers for a screen: seven digits, a gap is null. */
export function screenColumn(values: ArrayLike<number>): (number | null)[] {
  const out = new Array<number | null>(values.length)
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!
    out[i] = Number.isFinite(value) ? Number(value.toPrecision(7)) : null
  }
  return out
}
