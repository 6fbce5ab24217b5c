import type { SeriesQuery, SeriesView } from '../../../src/contract/http-runs.ts'
import type { Quantity } from '../../../src/records/quantity.ts'
import { extentOf } from '../../../src/signals/envelope.ts'
import type { RunRecord } from '../../store/run-record.ts'
import type { FittedRun } from './fitted-shelf.ts'
import { type Library, screenColumn } from './library.ts'
import { wholeSpan } from './run-summary.ts'

const LEAST_SHARE = 0.3

/** Measured channels of a span at the fineness of a screen, with fitted curves and residuals. */
export function series(library: Library, run: RunRecord, query: SeriesQuery): SeriesView {
  const whole = wholeSpan(run)
  const fromSec = Math.max(whole.fromSec, query.from ?? whole.fromSec)
  const toSec = Math.min(whole.toSec, query.to ?? whole.toSec)
  const empty = { fitted: [], residual: [], fitId: null, fittedTrouble: null }
  if (run.sampleCount === 0 || !(toSec >= fromSec)) {
    return {
      fromSec,
      toSec: Math.max(fromSec, toSec),
      x: [],
      isDetail: true,
      measured: [],
      ...empty,
    }
  }
  const overviews = run.quantities.map(quantity =>
    library.store.runs.overview(run.id, quantity, fromSec, toSec, query.points),
  )
  const x = overviews[0]?.x ?? new Float64Array()
  return {
    fromSec,
    toSec,
    x: Array.from(x, value => Number(value.toPrecision(10))),
    isDetail: overviews.every(view => view.isDetail),
    measured: overviews.map(view => ({
      quantity: view.quantity,
      low: screenColumn(view.low),
      mean: screenColumn(view.mean),
      high: screenColumn(view.high),
    })),
    ...(query.fit === undefined
      ? empty
      : fittedSeries(library, run, query.fit, x, (toSec - fromSec) / query.points)),
  }
}

function fittedSeries(
  library: Library,
  run: RunRecord,
  fitId: number,
  x: Float64Array,
  slotSec: number,
): Pick<SeriesView, 'fitted' | 'residual' | 'fitId' | 'fittedTrouble'> {
  const outcome = library.fitted.take(library.store, run.id, fitId)
  if ('trouble' in outcome) {
    return { fitted: [], residual: [], fitId, fittedTrouble: outcome.trouble }
  }
  const slots = samplesOfSlots(outcome, x, slotSec)
  const fitted: SeriesView['fitted'] = []
  const residual: SeriesView['residual'] = []
  for (const [name, column] of Object.entries(outcome.columns)) {
    const quantity = name as Quantity
    if (isSparse(column)) continue
    fitted.push({ quantity, mean: screenColumn(slots.map(at => extentOf(column, ...at).mean)) })
    const measured = outcome.recording.columns[quantity]
    if (!measured) continue
    const difference = new Float64Array(measured.length)
    for (let i = 0; i < difference.length; i++) difference[i] = measured[i]! - column[i]!
    const extents = slots.map(at => extentOf(difference, ...at))
    residual.push({
      quantity,
      low: screenColumn(extents.map(extent => extent.low)),
      mean: screenColumn(extents.map(extent => extent.mean)),
      high: screenColumn(extents.map(extent => extent.high)),
      rms: rootMeanSquare(difference, slots[0]?.[0] ?? 0, slots.at(-1)?.[1] ?? 0),
    })
  }
  return { fitted, residual, fitId, fittedTrouble: null }
}

/** Predicted here and there only, as a voltage between pulses: not worth a picture. */
function isSparse(column: Float64Array): boolean {
  let known = 0
  for (const value of column) if (!Number.isNaN(value)) known++
  return known < LEAST_SHARE * column.length
}

/** First sample of each slot whose middle is given, and the first beyond it. */
function samplesOfSlots(
  { recording }: FittedRun,
  x: Float64Array,
  slotSec: number,
): [number, number][] {
  const { timeSec, sampleCount } = recording
  const at = (moment: number) =>
    timeSec === null
      ? Math.max(0, Math.min(sampleCount, Math.ceil(moment)))
      : lowerBound(timeSec, moment)
  // The last sample lies on the end of the last slot and belongs to it.
  return Array.from(x, middle => {
    const from = at(middle - slotSec / 2)
    return [from, Math.max(from + 1, at(middle + slotSec * (0.5 + 1e-9)))]
  })
}

/** Index of the first element that is not below `value` in an ascending array. */
function lowerBound(ascending: Float64Array, value: number): number {
  let low = 0
  let high = ascending.length
  while (low < high) {
    const middle = (low + high) >>> 1
    if (ascending[middle]! < value) low = middle + 1
    else high = middle
  }
  return low
}

function rootMeanSquare(values: Float64Array, from: number, to: number): number | null {
  let sum = 0
  let count = 0
  for (let i = from; i < to; i++) {
    const value = values[i]!
    if (!Number.isFinite(value)) continue
    sum += value * value
    count++
  }
  return count === 0 ? null : Math.sqrt(sum / count)
}
