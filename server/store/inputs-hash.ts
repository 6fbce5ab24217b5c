import { createHash, type Hash } from 'node:crypto'
import type { Recording } from '../../src/records/recording.ts'
import { blobOf } from './blob.ts'
import type { RunRecord } from './run-record.ts'

/** Adds everything of one run that a fit sees; independent of how the samples are cut into chunks. */
export function hashRun(hash: Hash, run: RunRecord, pieces: Iterable<Recording>): void {
  const { id, kind, conditions, excluded, sampleCount } = run
  hash.update(JSON.stringify({ id, kind, conditions, excluded, sampleCount }))
  let isFirst = true
  for (const { timeSec, columns, bridge, edges, traits } of pieces) {
    if (isFirst) hash.update(JSON.stringify({ edges, traits, columns: Object.keys(columns) }))
    isFirst = false
    for (const values of [timeSec, ...Object.values(columns), bridge]) {
      if (values) hash.update(blobOf(values))
    }
  }
}

export const newHash = (): Hash => createHash('sha256')
