import type { RunRecord } from '../store/run-record.ts'

/** Runs that an identification takes unless told otherwise: whole ones that were made to measure. */
export function isMeant(run: RunRecord): boolean {
  return (run.ending === 'complete' || run.ending === 'imported') && run.plan?.role !== 'probe'
}
