import { FIRST_STORE } from './001-first-store.ts'
import { QUALITY } from './002-quality.ts'
import { CHECKS } from './003-checks.ts'

export interface Migration {
  /** The store's version after it. Consecutive from 1. */
  readonly version: number
  readonly sql: string
}

/** Never edit one that has been released: add the next. */
export const MIGRATIONS: readonly Migration[] = [
  { version: 1, sql: FIRST_STORE },
  { version: 2, sql: QUALITY },
  { version: 3, sql: CHECKS },
]
