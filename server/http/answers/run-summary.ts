import type { RunSummary, Thumbnail } from '../../../src/contract/http-motors.ts'
import type { Quantity } from '../../../src/records/quantity.ts'
import type { RunRecord } from '../../store/run-record.ts'
import type { Store } from '../../store/store.ts'
import { screenColumn } from './library.ts'

const THUMBNAIL_SLOTS = 60
/** The quantities by which a run is known at a glance. */
const THUMBNAIL_QUANTITIES: readonly Quantity[] = ['current', 'speed', 'voltage']

export function runFacts(run: RunRecord): Omit<RunSummary, 'thumbnails'> {
  return {
    id: run.id,
    motorId: run.motorId,
    motorName: run.motorName,
    kind: run.kind,
    origin: run.origin,
    title: run.title,
    startedAt: run.startedAt,
    ending: run.ending,
    endingText: run.endingText,
    sampleCount: run.sampleCount,
    durationSec: run.durationSec,
    quantities: [...run.quantities],
    samplesLost: run.losses.reduce((sum, loss) => sum + loss.samples, 0),
    rejectedLines: run.rejectedLines,
    deletedAt: run.deletedAt,
  }
}

export function runSummary(store: Store, run: RunRecord): RunSummary {
  return { ...runFacts(run), thumbnails: thumbnails(store, run) }
}

function thumbnails(store: Store, run: RunRecord): Thumbnail[] {
  if (run.sampleCount === 0) return []
  const span = wholeSpan(run)
  return THUMBNAIL_QUANTITIES.filter(quantity => run.quantities.includes(quantity))
    .slice(0, 2)
    .map(quantity => {
      const view = store.runs.overview(run.id, quantity, span.fromSec, span.toSec, THUMBNAIL_SLOTS)
      return { quantity, low: screenColumn(view.low), high: screenColumn(view.high) }
    })
}

/** The whole run: seconds, or row numbers of steady readings. */
export function wholeSpan(run: RunRecord): { fromSec: number; toSec: number } {
  return { fromSec: 0, toSec: run.durationSec ?? Math.max(0, run.sampleCount - 1) }
}
