import type { ColumnForm } from './column-code.ts'
import type { NounContext } from './noun-context.ts'
import { CHUNK_SAMPLES, OpenChunk } from './open-chunk.ts'
import type { RunTables } from './run-writer.ts'

/**
 * Runs that a writer left behind when it died: a logged one becomes `interrupted` and keeps all its
 * samples, an import that did not come to its end goes as if it had never begun. Returns the former.
 */
export function recoverOrphans({ db, nowMs, date }: NounContext, tables: RunTables): number[] {
  const { rows, open } = tables
  if (open.orphans(nowMs()).length === 0) return []
  return db
    .transaction(() => {
      const interrupted: number[] = []
      // Asked again inside the transaction: another process may have been here first.
      for (const runId of open.orphans(nowMs())) {
        const run = rows.get(runId)
        if (run.origin === 'import') {
          rows.remove(runId)
          continue
        }
        mergeTail(tables, runId, run.sampleCount)
        const safe =
          run.durationSec === null
            ? `${run.sampleCount} rows are safe`
            : `${run.sampleCount} samples (${run.durationSec.toFixed(3)} s) are safe`
        rows.end(
          runId,
          'interrupted',
          `the logger ended without closing the run; ${safe}`,
          date(),
          null,
        )
        open.leave(runId)
        interrupted.push(runId)
      }
      return interrupted
    })
    .immediate()
}

/** Puts one chunk in the place of the small ones at the end of a run that was being written. */
function mergeTail({ chunks }: RunTables, runId: number, sampleCount: number): void {
  const small = chunks.heads(runId, 0, sampleCount).filter(head => head.sampleCount < CHUNK_SAMPLES)
  const first = small[0]?.firstSample
  if (first === undefined) return
  const names = chunks.columnNames(runId, first)
  const merged = new OpenChunk(
    first,
    names.map(name => ({ name, form: formOf(name) })),
  )
  for (const head of small) {
    const columns = names.map(name => chunks.data(runId, head.firstSample, name))
    const parts = head.marks.length > 0 ? head.marks : [null]
    for (const [m, mark] of parts.entries()) {
      const from = Math.max(0, mark?.index ?? 0)
      const to = head.marks[m + 1]?.index ?? head.sampleCount
      const inPart = mark && { ...mark, index: mark.index - from }
      merged.append(to - from, inPart, (column, values, at) => {
        values.set(columns[column]!.subarray(from, to), at)
      })
    }
  }
  chunks.removeFrom(runId, first)
  chunks.insert(runId, merged.slice(0, merged.count))
}

function formOf(columnName: string): ColumnForm {
  if (columnName.startsWith('#')) return 'counts'
  return columnName === 'bridge' ? 'code' : 'real'
}
