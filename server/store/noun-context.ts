import type { Database } from './sqlite.ts'

/** What every noun's file works on. */
export interface NounContext {
  readonly db: Database
  /** Now, as ISO 8601 in UTC. */
  readonly date: () => string
  readonly nowMs: () => number
}
