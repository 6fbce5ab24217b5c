import type { Store } from '../../store/store.ts'
import { createFittedShelf } from './fitted-shelf.ts'
import type { Library } from './library.ts'
import { simulateFitted } from './simulate-fitted.ts'

/** A store with empty shelves for what takes long to work out. */
export const createLibrary = (store: Store): Library => ({
  store,
  fitted: createFittedShelf(simulateFitted),
  heats: new Map(),
  recognised: new Map(),
})
