import type { RunOutcome } from './bench-session.ts'

/** Why a run ends. */
export type RunEnd = Pick<RunOutcome, 'ending' | 'text' | 'trip'>

export const COMPLETE: RunEnd = { ending: 'complete', text: 'every step was driven', trip: null }

export const stoppedBecause = (reason: string): RunEnd => ({
  ending: 'stopped',
  text: reason,
  trip: null,
})

export const lostBecause = (reason: string): RunEnd => ({
  ending: 'link-lost',
  text: reason,
  trip: null,
})

export const trippedBy = (by: 'rig' | 'host', code: string, text: string): RunEnd => ({
  ending: 'tripped',
  text,
  trip: { by, code, text },
})
