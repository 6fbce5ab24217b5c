import { firstAtOrAfter } from '../base/first-at-or-after.ts'
import type { Recording } from '../records/recording.ts'
import { shaftSpeed } from '../signals/shaft-speed.ts'
import { blockMeans, correlatedMean } from '../statistics/autocorrelation-time.ts'
import { median, medianAbsoluteDeviation } from '../statistics/robust.ts'
import { type DriveSpan, driveSpans } from './drive-spans.ts'
import { switchingAliasHz } from './switching-alias.ts'
import type { TestPlan } from './test-plan.ts'
import type { Reading, StepSummary, TestSummary } from './test-summary.ts'

/** The settled part of a step: its last share. */
const SETTLED_SHARE = 0.35
/** Early and late windows for the drift of v/i: each this share, the early one once the current has risen. */
const DRIFT_WINDOW = 0.3
const EARLY_FROM = 0.1
/** exp(−10): what is left of the rise is far below the warming looked for. */
const RISEN_TIME_CONSTANTS = 10
const OUTLIER_SIGMA = 6
/** Samples of a running mean under which a peak is sought. */
const PEAK_SAMPLES = 5
const FEWEST_SAMPLES = 4
/** Long series are averaged in blocks first: spikes and correlation are then looked for between blocks. */
const MOST_BLOCKS = 256

interface Columns {
  readonly timeSec: Float64Array
  readonly volt: Float64Array | null
  readonly amp: Float64Array | null
  readonly radPerSec: Float64Array | null
}

/** What a finished test showed, step by step, for planning the next and for telling the operator. */
export function summarise(recording: Recording, plan: TestPlan): TestSummary {
  const { timeSec } = recording
  const empty = { steps: [], samples: recording.sampleCount, restVolt: null, restAmp: null }
  if (!timeSec || timeSec.length < FEWEST_SAMPLES) {
    return { ...empty, restRadPerSec: null, peakAmp: null, peakRadPerSec: null, aliasHz: null }
  }
  const spans = driveSpans(recording, plan)
  const { voltage = null, current = null } = recording.columns
  const speed = shaftSpeed(recording)
  const restTo = spans[0]?.from ?? timeSec.length
  const restVolt = readingOf(voltage, 0, restTo)
  const restAmp = readingOf(current, 0, restTo)
  const restRadPerSec = readingOf(speed, 0, restTo)
  const columns: Columns = {
    timeSec,
    volt: lessRest(voltage, restVolt),
    amp: lessRest(current, restAmp),
    radPerSec: lessRest(speed, restRadPerSec),
  }
  return {
    steps: spans.map(span => summariseStep(columns, span)),
    samples: recording.sampleCount,
    restVolt,
    restAmp,
    restRadPerSec,
    peakAmp: peak(columns.amp, 0, timeSec.length),
    peakRadPerSec: peak(columns.radPerSec, 0, timeSec.length),
    aliasHz: aliasOf(recording, columns, spans, plan.guard?.pwmHz ?? null),
  }
}

/** Looked for in the longest steady drive. A channel that averages over whole periods shows none. */
function aliasOf(
  recording: Recording,
  { timeSec, amp }: Columns,
  spans: readonly DriveSpan[],
  pwmHz: number | null,
): number | null {
  const averaged = recording.traits.current?.apertureSec ?? 0
  if (pwmHz === null || !amp || spans.length === 0 || averaged * pwmHz > 0.9) return null
  const { from, to } = spans.reduce((a, b) => (b.to - b.from > a.to - a.from ? b : a))
  const middle = (from + to) >> 1
  const rateHz = (to - 1 - middle) / (timeSec[to - 1]! - timeSec[middle]!)
  return switchingAliasHz(amp.subarray(middle, to), rateHz, pwmHz)
}

function lessRest(values: Float64Array | null, rest: Reading | null): Float64Array | null {
  if (!values) return null
  return rest ? values.map(value => value - rest.value) : values
}

function summariseStep(columns: Columns, span: DriveSpan): StepSummary {
  const { timeSec, volt, amp, radPerSec } = columns
  const { from, to } = span
  const settled = Math.min(Math.floor(to - SETTLED_SHARE * (to - from)), to - FEWEST_SAMPLES)
  const start = Math.max(from, settled)
  const currentRiseSec = amp && riseSec(timeSec, amp, span, start)
  return {
    stepIndex: span.stepIndex,
    setVolt: span.setVolt,
    durationSec: timeSec[to - 1]! - span.startSec,
    volt: readingOf(volt, start, to),
    amp: readingOf(amp, start, to),
    radPerSec: readingOf(radPerSec, start, to),
    peakAmp: peak(amp, from, to),
    peakRadPerSec: peak(radPerSec, from, to),
    turnedRad: radPerSec && integral(timeSec, from, to, i => radPerSec[i]!),
    ...driftOf(columns, span, currentRiseSec),
    energyJoule: volt && amp && integral(timeSec, from, to, i => volt[i]! * amp[i]!),
    currentRiseSec,
    speedRiseSec: radPerSec && riseSec(timeSec, radPerSec, span, start),
  }
}

/** Mean without spikes; its uncertainty allows for correlation between samples. */
function readingOf(values: Float64Array | null, from: number, to: number): Reading | null {
  if (!values) return null
  const seen = values.subarray(from, to).filter(value => !Number.isNaN(value))
  if (seen.length < FEWEST_SAMPLES) return null
  const blocks = blockMeans(seen, Math.ceil(seen.length / MOST_BLOCKS))
  const centre = median(blocks)
  const spread = medianAbsoluteDeviation(blocks)
  const isSpike = (value: number) => Math.abs(value - centre) > OUTLIER_SIGMA * spread
  const kept = spread > 0 ? blocks.filter(value => !isSpike(value)) : blocks
  const { mean, standardUncertainty } = correlatedMean(kept)
  return { value: mean, uncertainty: standardUncertainty }
}

function driftOf(columns: Columns, span: DriveSpan, riseSec: number | null) {
  const { timeSec, volt, amp } = columns
  const { from, to } = span
  const nothing = { drift: null, driftJoule: null }
  const window = Math.floor(DRIFT_WINDOW * (to - from))
  const risen = firstAtOrAfter(timeSec, span.startSec + RISEN_TIME_CONSTANTS * (riseSec ?? 0))
  const earlyFrom = Math.max(Math.round(from + EARLY_FROM * (to - from)), risen)
  const lateFrom = to - window
  if (!volt || !amp || earlyFrom + window > lateFrom) return nothing
  const ratio = (low: number): Reading | null => {
    const v = readingOf(volt, low, low + window)
    const i = readingOf(amp, low, low + window)
    if (!v || !i || Math.abs(i.value) < 3 * i.uncertainty || v.value === 0) return null
    const relative = Math.hypot(v.uncertainty / v.value, i.uncertainty / i.value)
    return { value: v.value / i.value, uncertainty: relative }
  }
  const early = ratio(earlyFrom)
  const late = ratio(lateFrom)
  if (!early || !late) return nothing
  const middle = window >> 1
  return {
    drift: {
      value: late.value / early.value - 1,
      uncertainty: Math.hypot(early.uncertainty, late.uncertainty),
    },
    driftJoule: integral(timeSec, earlyFrom + middle, lateFrom + middle, i => volt[i]! * amp[i]!),
  }
}

function integral(
  timeSec: Float64Array,
  from: number,
  to: number,
  value: (index: number) => number,
): number {
  let sum = 0
  for (let i = Math.max(from, 1); i < to; i++) {
    const rate = value(i)
    if (!Number.isNaN(rate)) sum += rate * (timeSec[i]! - timeSec[i - 1]!)
  }
  return sum
}

function peak(values: Float64Array | null, from: number, to: number): number | null {
  if (!values || to - from < PEAK_SAMPLES) return null
  let largest: number | null = null
  let sum = 0
  for (let i = from; i < to; i++) {
    sum += values[i]!
    if (i - from >= PEAK_SAMPLES) sum -= values[i - PEAK_SAMPLES]!
    if (Number.isNaN(sum)) return maxFinite(values, from, to)
    if (i - from >= PEAK_SAMPLES - 1) largest = Math.max(largest ?? 0, Math.abs(sum) / PEAK_SAMPLES)
  }
  return largest
}

/** With gaps in the samples there is no running mean; single samples then count. */
function maxFinite(values: Float64Array, from: number, to: number): number | null {
  let largest: number | null = null
  for (let i = from; i < to; i++) {
    if (!Number.isNaN(values[i]!)) largest = Math.max(largest ?? 0, Math.abs(values[i]!))
  }
  return largest
}

/** Time from the edge until 63 % of the change to the settled value; null where nothing changed. */
function riseSec(
  timeSec: Float64Array,
  values: Float64Array,
  span: DriveSpan,
  settledFrom: number,
): number | null {
  const settled = readingOf(values, settledFrom, span.to)
  const before = readingOf(values, Math.max(0, span.from - PEAK_SAMPLES), span.from)
  if (!settled || !before) return null
  const change = settled.value - before.value
  if (!(Math.abs(change) > 6 * Math.hypot(settled.uncertainty, before.uncertainty))) return null
  const threshold = (1 - Math.exp(-1)) * change
  for (let i = span.from; i < span.to; i++) {
    const passed = (values[i]! - before.value) * Math.sign(change)
    if (passed < Math.abs(threshold)) continue
    const previous = i > span.from ? values[i - 1]! - before.value : 0
    const share = (threshold - previous) / (values[i]! - before.value - previous || 1)
    const earlier = i > span.from ? timeSec[i - 1]! : span.startSec
    return Math.max(0, earlier + share * (timeSec[i]! - earlier) - span.startSec)
  }
  return null
}
