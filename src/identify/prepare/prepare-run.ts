import type { Switching } from '../../motor/brush-drop.ts'
import { PHASE, type PreparedRun, START } from '../../motor/prepared-run.ts'
import type { StepClass, Window } from '../../motor/step-matrices.ts'
import { type ChannelTraits, PLAIN_TRAITS } from '../../records/recording.ts'
import type { TestConditions, TestRun } from '../../records/test-run.ts'
import type { RunSignals, Signal } from '../../signals/run-signals.ts'
import { median } from '../../statistics/robust.ts'
import { type BridgeSpan, bridgeSpans } from './bridge-spans.ts'
import { sourceResistance } from './source-resistance.ts'
import { type BuiltStep, StepBuilder } from './step-builder.ts'
import { type MergeTolerance, NOTHING_ALLOWED, StepMerger } from './step-merger.ts'

export interface PrepareOptions {
  /** Neighbouring samples between which nothing changes are joined to longer steps. */
  readonly merge: boolean
  readonly referenceCelsius: number
}

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
/** Time stamps may stray by this share of a period before the step's length follows them. */
const STAMP_TOLERANCE = 0.01
/** Samples further apart than this many periods have a gap between them. */
const GAP_PERIODS = 2.5
/** Steps of odd length are told apart to this share of a period. */
const LENGTH_STEP = 1 / 1024
/** Freewheeling counts as over where the current is below this share of its reach, or within noise. */
const FREEWHEEL_SHARE = 0.005
const CELLS_PER_SPAN = 8
/** A shorter piece of a period is not told from the mean over the whole. */
const LEAST_SHARE = 0.05

/** Turns a sampled run into the steps of the motor model. The run must have a time column. */
export function prepareRun(signals: RunSignals, options: PrepareOptions): PreparedRun {
  return new Preparation(signals, options).build()
}

/** Usual time between samples. */
export function usualPeriodSec(time: Float64Array): number {
  const stride = Math.max(1, Math.floor(time.length / 5000))
  const differences: number[] = []
  for (let i = 1; i < time.length; i += stride) differences.push(time[i]! - time[i - 1]!)
  return median(differences)
}

class Preparation {
  private readonly signals: RunSignals
  private readonly run: TestRun
  private readonly time: Float64Array
  private readonly periodSec: number
  private readonly spans: readonly BridgeSpan[]
  private readonly builder = new StepBuilder()
  private readonly merger: StepMerger | null
  private readonly fed: boolean
  private readonly locked: boolean
  private readonly speedTraits: ChannelTraits
  private readonly voltageTraits: ChannelTraits
  private readonly currentTraits: ChannelTraits
  private readonly options: PrepareOptions
  /** Readings reach back this far: after a gap the first ones mean nothing. */
  private readonly speedReachSec: number
  private readonly step: BuiltStep = {
    classIndex: 0,
    phase: 0,
    start: 0,
    voltage: 0,
    current: 0,
    speed: 0,
    currentRipple: 0,
    loadTorque: 0,
    heat: 0,
    edgeDoubt: 0,
    sample: 0,
    span: 0,
  }

  constructor(signals: RunSignals, options: PrepareOptions) {
    this.signals = signals
    this.run = signals.run
    this.options = options
    this.time = signals.timeSec!
    this.periodSec = usualPeriodSec(this.time)
    this.spans = bridgeSpans(signals, this.periodSec)
    this.fed = signals.voltage === null
    this.locked = isLocked(signals)
    this.voltageTraits = signals.voltage?.traits ?? PLAIN_TRAITS
    this.currentTraits = signals.current?.traits ?? PLAIN_TRAITS
    this.speedTraits = signals.speed?.traits ?? PLAIN_TRAITS
    this.speedReachSec = this.speedTraits.apertureSec + this.speedTraits.delaySec
    // A current that is the input follows its loop and changes from sample to sample.
    this.merger =
      options.merge && !this.fed
        ? new StepMerger(this.builder, level => this.mergedClass(level))
        : null
  }

  build(): PreparedRun {
    const { time, spans, periodSec } = this
    const n = time.length
    let span = 0
    let model = time[0]!
    let fresh = true
    let sinceStart = 0
    let blank = false
    let blankLeft = 0
    while (span + 1 < spans.length && spans[span + 1]!.startSec <= model) span += 1
    this.enterSpan(span)
    for (let k = 1; k < n; k++) {
      const stamp = time[k]!
      if (stamp - time[k - 1]! > GAP_PERIODS * periodSec) {
        this.merger?.flush()
        fresh = true
        model = stamp
        while (span + 1 < spans.length && spans[span + 1]!.startSec <= model) {
          span += 1
          blank = false
          this.enterSpan(span)
        }
        continue
      }
      const regular = Math.abs(stamp - model - periodSec) <= STAMP_TOLERANCE * periodSec
      const end = regular ? model + periodSec : stamp
      if (end <= model) continue
      // Parts of the period before edges that fall into it.
      let from = model
      let doubt = 0
      while (span + 1 < spans.length && spans[span + 1]!.startSec < end - 1e-9 * periodSec) {
        const edge = spans[span + 1]!
        const until = Math.max(from, edge.startSec)
        if (until - from > LENGTH_STEP * periodSec) {
          fresh = this.part(k, span, until - from, false, fresh, blank, doubt)
          doubt = 0
          from = until
        }
        const wasDriven = spans[span]!.terminals === 'driven'
        span += 1
        this.merger?.flush()
        this.enterSpan(span)
        blank = wasDriven && edge.terminals === 'open'
        blankLeft = 2
        doubt = this.doubtOf(span)
      }
      if (fresh) sinceStart = 0
      const whole = regular && from === model
      if (end - from > LENGTH_STEP * periodSec) {
        fresh = this.part(k, span, end - from, true, fresh, blank, doubt, sinceStart, whole)
      }
      sinceStart += end - from
      if (blank && this.freewheelOver(k)) {
        blankLeft -= 1
        if (blankLeft <= 0) blank = false
      }
      model = end
    }
    this.merger?.flush()
    return this.finish()
  }

  /** A step from `lengthSec` before sample k, or before an edge between k − 1 and k. Returns whether the next begins anew. */
  private part(
    k: number,
    span: number,
    lengthSec: number,
    read: boolean,
    fresh: boolean,
    blank: boolean,
    doubt: number,
    sinceStartSec = 0,
    whole = false,
  ): boolean {
    const { step, signals, fed } = this
    const open = this.spans[span]!.terminals === 'open'
    step.phase = blank ? PHASE.blank : open ? PHASE.open : fed ? PHASE.currentFed : PHASE.driven
    step.span = span
    step.sample = k
    step.edgeDoubt = doubt
    const current = signals.current
    const readsCurrent = read && current !== null && !open
    step.voltage =
      signals.voltage === null
        ? Number.NaN
        : open
          ? read
            ? signals.voltage.values[k]!
            : Number.NaN
          : this.held(signals.voltage, k, span)
    step.current =
      fed && !open ? this.held(current!, k, span) : readsCurrent ? current.values[k]! : Number.NaN
    step.speed =
      read && signals.speed !== null && !this.locked ? signals.speed.values[k]! : Number.NaN
    if (read && !open && !fed && lengthSec < this.periodSec) this.readAfterEdge(k, span, lengthSec)
    step.currentRipple = 0
    step.loadTorque = signals.torque === null ? 0 : signals.torque.values[k]!
    const amp = current === null || open ? 0 : current.values[k]!
    step.heat = Number.isFinite(amp) ? amp * amp * lengthSec : 0
    // Without its input a step cannot be made; the states begin anew after it.
    const input = step.phase === PHASE.driven ? step.voltage : fed && !open ? step.current : 0
    if (!Number.isFinite(input)) {
      this.merger?.flush()
      return true
    }
    step.start = fresh ? this.startKind(k) : START.goesOn
    if (sinceStartSec + lengthSec < this.speedReachSec * (1 - 1e-9)) step.speed = Number.NaN
    if (whole && this.merger !== null && !blank) {
      step.classIndex = this.singleClass()
      this.merger.add(step)
      return false
    }
    this.merger?.flush()
    step.classIndex = whole ? this.singleClass() : this.oddClass(lengthSec)
    if (!this.currentFits(lengthSec, whole) && !fed) step.current = Number.NaN
    if (open && !this.voltageFits(lengthSec, whole)) step.voltage = Number.NaN
    this.builder.push(step)
    return false
  }

  private enterSpan(span: number): void {
    if (this.merger === null) return
    const { time, periodSec, spans, signals } = this
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
      const first = lowerBound(time, start)
      const last = lowerBound(time, end)
      const range = rangeOfPairs(signal.values, first, last)
      const from = Math.max((start + end) / 2, end - SCATTER_SAMPLES * periodSec)
      const { mean, scatter } = lineThrough(signal.values, lowerBound(time, from), last)
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
    this.merger.setLimits({
      tolerances: {
        voltage: tolerance(signals.voltage, driven ? MERGE_INPUT_SHARE : MERGE_SHARE),
        current: tolerance(signals.current, MERGE_SHARE, MERGE_OF_ITSELF),
        speed: tolerance(signals.speed, MERGE_SHARE),
      },
      largestLevel: Math.max(0, Math.floor(Math.log2(samples / STEPS_KEPT))),
    })
  }

  /** At rest without current, as far as the readings tell. */
  private startKind(k: number): number {
    const { signals, run } = this
    const small = (signal: Signal | null) => {
      if (signal === null) return true
      let sum = 0
      let count = 0
      for (let j = Math.max(0, k - 1); j < Math.min(signals.count, k + 2); j++) {
        if (Number.isFinite(signal.values[j]!)) {
          sum += signal.values[j]!
          count += 1
        }
      }
      const limit = Math.max((5 * signal.noise) / Math.sqrt(count), 1e-3 * signal.reach)
      return count > 0 && Math.abs(sum / count) <= limit
    }
    const rests = signals.speed !== null ? small(signals.speed) : run.kind !== 'back-driven'
    return rests && small(signals.current) && small(signals.voltage) ? START.atRest : START.anew
  }

  /**
   * The input over the step that ends with sample k: readings of its span, brought to the middle of the
   * step. Readings whose aperture reaches over an edge are not used.
   */
  private held(signal: Signal, k: number, span: number): number {
    const { apertureSec, delaySec } = signal.traits
    const { time, periodSec, spans } = this
    const first = this.firstPure(signal.traits, spans[span]!.startSec)
    const endSec = spans[span + 1]?.startSec ?? Number.POSITIVE_INFINITY
    const last = this.lastPure(delaySec, endSec)
    if (last < first) return signal.values[Math.min(Math.max(first, 0), time.length - 1)]!
    const place = k - 0.5 + (delaySec + apertureSec / 2) / periodSec
    if (place <= first) return signal.values[first]!
    if (place >= last) return signal.values[last]!
    const below = Math.floor(place)
    const share = place - below
    const value = signal.values[below]!
    return share === 0 ? value : value + share * (signal.values[below + 1]! - value)
  }

  /**
   * The mean voltage from an edge to the end of its sample period, where the reading is the mean over that
   * very period: what is left of it without the part before. The reading after the edge would be the voltage
   * of a supply that gives way to a current which has not risen yet.
   */
  private readAfterEdge(k: number, span: number, lengthSec: number): void {
    const { values, noise, traits } = this.signals.voltage!
    const { time, periodSec, spans, step } = this
    const grid = STAMP_TOLERANCE * periodSec
    if (Math.abs(traits.apertureSec - periodSec) > grid || traits.delaySec > grid) return
    const before = spans[span - 1]
    const share = lengthSec / periodSec
    if (before === undefined || k < 2 || share < LEAST_SHARE || share > 1 - LENGTH_STEP) return
    if (
      before.startSec > time[k - 2]! ||
      Math.abs(spans[span]!.startSec + lengthSec - time[k]!) > grid
    )
      return
    if (before.terminals === 'open' && !this.freewheelOver(k - 1)) return
    const mean = (values[k]! - (1 - share) * values[k - 1]!) / share
    if (!Number.isFinite(mean)) return
    step.voltage = mean
    // Of its noise as voltage times time the step itself brings share² already.
    const ownNoise = (noise * periodSec) ** 2 * (1 + (1 - share) ** 2 - share ** 2)
    step.edgeDoubt = this.run.conditions.switchingHz ? step.edgeDoubt + ownNoise : ownNoise
  }

  private memoFirst = { startSec: Number.NaN, index: 0 }
  private memoLast = { endSec: Number.NaN, index: 0 }

  /** A reading of the very moment of an edge belongs to what was before it. */
  private firstPure({ apertureSec, delaySec }: ChannelTraits, startSec: number): number {
    if (this.memoFirst.startSec === startSec) return this.memoFirst.index
    const tie = (apertureSec > 0 ? -1e-6 : 1e-6) * this.periodSec
    const index = lowerBound(this.time, startSec + apertureSec + delaySec + tie)
    this.memoFirst = { startSec, index }
    return index
  }

  private lastPure(delaySec: number, endSec: number): number {
    if (this.memoLast.endSec === endSec) return this.memoLast.index
    const tie = 1e-6 * this.periodSec
    const index = lowerBound(this.time, endSec + delaySec + tie) - 1
    this.memoLast = { endSec, index }
    return index
  }

  /** Doubt about the moment of a span's start, as a variance of voltage × time. */
  private doubtOf(span: number): number {
    const { doubtSec, startSec, terminals } = this.spans[span]!
    const voltage = this.signals.voltage
    // Pulses begin anywhere in the period in which the bridge was told to.
    const pulseSec = this.run.conditions.switchingHz ? 1 / this.run.conditions.switchingHz : 0
    const variance = doubtSec ** 2 + pulseSec ** 2 / 12
    if (variance === 0 || voltage === null || terminals === 'open') return 0
    const before = lowerBound(this.time, startSec) - 2
    const after = lowerBound(this.time, startSec) + 2
    const old = voltage.values[Math.max(0, before)]!
    const now = voltage.values[Math.min(this.time.length - 1, after)]!
    const jump = now - old
    return Number.isFinite(jump) ? jump ** 2 * variance : 0
  }

  private freewheelOver(k: number): boolean {
    const { current } = this.signals
    if (current === null) return true
    const limit = Math.max(5 * current.noise, FREEWHEEL_SHARE * current.reach)
    return Math.abs(current.values[k]!) <= limit
  }

  // Classes of steps.

  private singleClass(): number {
    return this.mergedClass(0)
  }

  /** Index of the class of 2^level samples, by level: asked for with every sample. */
  private readonly wholeClasses: number[] = []

  private mergedClass(level: number): number {
    const known = this.wholeClasses[level]
    if (known !== undefined) return known
    const samples = 2 ** level
    const index = this.builder.classFor(`${samples}`, () =>
      this.classOf(samples * this.periodSec, samples, true),
    )
    this.wholeClasses[level] = index
    return index
  }

  private oddClass(lengthSec: number): number {
    const steps = Math.max(1, Math.round(lengthSec / (LENGTH_STEP * this.periodSec)))
    return this.builder.classFor(`/${steps}`, () =>
      this.classOf(steps * LENGTH_STEP * this.periodSec, 1, false),
    )
  }

  private classOf(durationSec: number, samples: number, whole: boolean): StepClass {
    const { speedTraits } = this
    const reach = speedTraits.apertureSec + speedTraits.delaySec
    const trails = samples === 1 && reach > durationSec * (1 + 1e-9)
    return {
      durationSec,
      samples,
      current: this.window(this.currentTraits, durationSec, samples, whole),
      openVoltage: this.window(this.voltageTraits, durationSec, samples, whole),
      speed: trails
        ? { fromSec: 0, toSec: durationSec, lagSec: 0 }
        : this.window(speedTraits, durationSec, samples, whole),
      trail: trails
        ? { apertureSec: speedTraits.apertureSec, delaySec: speedTraits.delaySec }
        : null,
    }
  }

  /** Where in the step a channel's readings lie: exactly if inside it, else moved back by its slope. */
  private window(
    { apertureSec, delaySec }: ChannelTraits,
    durationSec: number,
    samples: number,
    whole: boolean,
  ): Window {
    if (samples === 1 && apertureSec + delaySec <= durationSec * (1 + 1e-9)) {
      const toSec = durationSec - delaySec
      return { fromSec: Math.max(0, toSec - apertureSec), toSec, lagSec: 0 }
    }
    const span = samples === 1 ? durationSec : this.periodSec
    const lagSec = whole ? delaySec + (apertureSec - span) / 2 : 0
    return { fromSec: 0, toSec: durationSec, lagSec }
  }

  private currentFits(lengthSec: number, whole: boolean): boolean {
    const { apertureSec, delaySec } = this.currentTraits
    return whole || apertureSec + delaySec <= lengthSec * (1 + 1e-9)
  }

  private voltageFits(lengthSec: number, whole: boolean): boolean {
    const { apertureSec, delaySec } = this.voltageTraits
    return whole || apertureSec + delaySec <= lengthSec * (1 + 1e-9)
  }

  private finish(): PreparedRun {
    const { run, signals } = this
    const { conditions } = run
    const hasLoad = signals.torque !== null
    const start =
      conditions.windingCelsius ?? conditions.ambientCelsius ?? this.options.referenceCelsius
    const { fixture } = conditions
    return this.builder.finish(
      {
        runId: run.id,
        kind: run.kind,
        shaft: this.locked ? 'locked' : 'free',
        hasLoadTorque: hasLoad,
        sourceOhm: sourceResistance(signals, this.spans),
        switching: switchingOf(conditions),
        loadTorqueNm: hasLoad ? 0 : conditions.loadTorqueNm,
        added: {
          inertiaKgM2: conditions.addedInertiaKgM2 + (fixture?.inertiaKgM2 ?? 0),
          coulombNm: fixture?.coulombTorqueNm ?? 0,
          viscousNmsPerRad: fixture?.viscousNmsPerRad ?? 0,
        },
        torqueUnknown:
          !hasLoad &&
          (run.kind === 'back-driven' || (run.kind === 'load' && conditions.loadTorqueNm === 0)),
        startCelsius: start,
        magnetCelsius: conditions.ambientCelsius ?? start,
      },
      CELLS_PER_SPAN,
    )
  }
}

/** The shaft is held: said by the kind of test, or by a heating run that never turns. */
export function isLocked({ run, speed }: RunSignals): boolean {
  if (run.kind === 'locked-rotor') return true
  return run.kind === 'heating' && (speed === null || speed.reach <= 6 * speed.noise)
}

function switchingOf({ switchingHz, supplyVolt }: TestConditions): Switching | null {
  if (!switchingHz || !supplyVolt) return null
  return { periodSec: 1 / switchingHz, busVolt: supplyVolt }
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

/** First index whose time is not before `moment`. */
function lowerBound(time: Float64Array, moment: number): number {
  let low = 0
  let high = time.length
  while (low < high) {
    const middle = (low + high) >> 1
    if (time[middle]! < moment) low = middle + 1
    else high = middle
  }
  return low
}
