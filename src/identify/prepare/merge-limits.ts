import { firstAtOrAfter } from '../../base/first-at-or-after.ts'
import type { RunSignals, Signal } from '../../signals/run-signals.ts'
import type { BridgeSpan } from './bridge-spans.ts'
import { type MergeLimits, type MergeTolerance, NOTHING_ALLOWED } from './step-merger.ts'

/** Neighbours are joined while readings move by less than this share of their range in the span. */
const MERGE_SHARE = 0.01
/** Of a voltage that is the input: it is held over the step, so that no change may be seen. */
const MERGE_INPUT_SHARE = 1e-5
/** Of the current itself: the drop at the brushes is far from a straight line at small currents. */
const MERGE_OF_ITSELF = 0.03
/** Ripple is no change: so many standard deviations of what the end of a span shows about a line. */
const MERGE_SCATTER = 3
/** No scatter hides more than this share of a channel's reach. */
const MOST_SCATTER = 0.05
const SCATTER_SAMPLES = 512
/** A span counts as settled within this share of its range about its end. */
const SETTLED_SHARE = 0.1
/** Scatter up to this many times the variance of the noise is noise. */
const NOISE_ALLOWED = 1.3
/** A span between edges keeps at least so many steps. */
const STEPS_KEPT = 16

/** How far readings may move within a longer step of one span of the bridge. */
export function mergeLimits(
  signals: RunSignals,
  spans: readonly BridgeSpan[],
  span: number,
  periodSec: number,
): MergeLimits {
  const time = signals.timeSec!
  const end = spans[span + 1]?.startSec ?? time[time.length - 1]!
  const start = Math.max(spans[span]!.startSec, time[0]!)
  const samples = (end - start) / periodSec
  const driven = spans[span]!.terminals === 'driven'
  const tolerance = (
    signal: Signal | null,
    share: number,
    ofItself: number | null = null,
  ): MergeTolerance => {
    if (signal === null) return NOTHING_ALLOWED
    const first = firstAtOrAfter(time, start)
    const last = firstAtOrAfter(time, end)
    const range = rangeOfPairs(signal.values, first, last)
    const from = Math.max((start + end) / 2, end - SCATTER_SAMPLES * periodSec)
    const { mean, scatter } = lineThrough(signal.values, firstAtOrAfter(time, from), last)
    const beyondNoise = Math.sqrt(Math.max(0, scatter ** 2 - NOISE_ALLOWED * signal.noise ** 2))
    const ripple = Math.min(MERGE_SCATTER * beyondNoise, MOST_SCATTER * signal.reach)
    return {
      plain: share * range,
      share: ofItself,
      ripple,
      settled: mean,
      settledWithin: SETTLED_SHARE * range + ripple,
      noise: signal.noise,
    }
  }
  return {
    tolerances: {
      voltage: tolerance(signals.voltage, driven ? MERGE_INPUT_SHARE : MERGE_SHARE),
      current: tolerance(signals.current, MERGE_SHARE, MERGE_OF_ITSELF),
      speed: tolerance(signals.speed, MERGE_SHARE),
    },
    largestLevel: Math.max(0, Math.floor(Math.log2(samples / STEPS_KEPT))),
  }
}

/** Range of the means of neighbouring samples, from before the first on: what a span's change amounts to. */
function rangeOfPairs(values: Float64Array, from: number, to: number): number {
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (let k = Math.max(1, from); k < to; k++) {
    const mean = (values[k]! + values[k - 1]!) / 2
    if (mean < low) low = mean
    if (mean > high) high = mean
  }
  return high > low ? high - low : 0
}

/** Mean and standard deviation about a straight line of samples `from` up to `to`. */
function lineThrough(
  values: Float64Array,
  from: number,
  to: number,
): { mean: number; scatter: number } {
  let n = 0
  let x = 0
  let y = 0
  let xx = 0
  let xy = 0
  let yy = 0
  const origin = values[from] ?? 0
  for (let k = from; k < to; k++) {
    const value = values[k]! - origin
    if (Number.isNaN(value)) continue
    const at = k - from
    n += 1
    x += at
    y += value
    xx += at * at
    xy += at * value
    yy += value * value
  }
  if (n < 8) return { mean: origin, scatter: 0 }
  const slopeSquares = xx - (x * x) / n
  const products = xy - (x * y) / n
  const squares = yy - (y * y) / n - (products * products) / slopeSquares
  return { mean: origin + y / n, scatter: Math.sqrt(Math.max(0, squares) / (n - 2)) }
}
