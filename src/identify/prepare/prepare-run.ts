import type { Switching } from '../../motor/brush-drop.ts'
import { PHASE, type PreparedRun, START } from '../../motor/prepared-run.ts'
import { PLAIN_TRAITS } from '../../records/recording.ts'
import type { TestConditions, TestRun } from '../../records/test-run.ts'
import type { RunSignals, Signal } from '../../signals/run-signals.ts'
import { usualPeriodSec } from '../../signals/usual-period.ts'
import { type BridgeSpan, bridgeSpans } from './bridge-spans.ts'
import { InputReader } from './input-reader.ts'
import { mergeLimits } from './merge-limits.ts'
import { readsOpenTerminals } from './open-reading.ts'
import { sourceResistance } from './source-resistance.ts'
import { StepBuilder } from './step-builder.ts'
import { LENGTH_STEP, STAMP_TOLERANCE, StepClasses } from './step-classes.ts'
import { emptyStep, StepMerger } from './step-merger.ts'

export interface PrepareOptions {
  /** Neighbouring samples between which nothing changes are joined to longer steps. */
  readonly merge: boolean
  readonly referenceCelsius: number
}

/** Samples further apart than this many periods have a gap between them. */
const GAP_PERIODS = 2.5
const CELLS_PER_SPAN = 8

/** Turns a sampled run into the steps of the motor model. The run must have a time column. */
export function prepareRun(signals: RunSignals, options: PrepareOptions): PreparedRun {
  return new Preparation(signals, options).build()
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
  private readonly readsOpen: boolean
  private readonly locked: boolean
  private readonly input: InputReader
  private readonly classes: StepClasses
  private readonly options: PrepareOptions
  /** Readings reach back this far: after a gap the first ones mean nothing. */
  private readonly speedReachSec: number
  /** Filled anew for every step where none are joined. */
  private readonly single = emptyStep()

  constructor(signals: RunSignals, options: PrepareOptions) {
    this.signals = signals
    this.run = signals.run
    this.options = options
    this.time = signals.timeSec!
    this.periodSec = usualPeriodSec(this.time)
    this.spans = bridgeSpans(signals, this.periodSec)
    this.fed = signals.voltage === null
    this.readsOpen = readsOpenTerminals(signals, this.spans)
    this.locked = isLocked(signals)
    this.input = new InputReader(signals, this.spans, this.periodSec)
    this.classes = new StepClasses(signals, this.periodSec, this.builder)
    const { apertureSec, delaySec } = signals.speed?.traits ?? PLAIN_TRAITS
    this.speedReachSec = apertureSec + delaySec
    // A current that is the input follows its loop and changes from sample to sample.
    this.merger =
      options.merge && !this.fed
        ? new StepMerger(this.builder, level => this.classes.ofPeriods(level))
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
        doubt = this.input.edgeDoubt(span)
      }
      if (fresh) sinceStart = 0
      const whole = regular && from === model
      if (end - from > LENGTH_STEP * periodSec) {
        fresh = this.part(k, span, end - from, true, fresh, blank, doubt, sinceStart, whole)
      }
      sinceStart += end - from
      if (blank && this.input.freewheelOver(k)) {
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
    const { signals, fed } = this
    const step = this.merger?.step ?? this.single
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
          ? read && this.readsOpen
            ? signals.voltage.values[k]!
            : Number.NaN
          : this.input.held(signals.voltage, k, span)
    step.current =
      fed && !open
        ? this.input.held(current!, k, span)
        : readsCurrent
          ? current.values[k]!
          : Number.NaN
    const { speed } = signals
    const readsSpeed = read && speed !== null && speed.isReading?.[k] !== 0 && !this.locked
    step.speed = readsSpeed ? speed.values[k]! : Number.NaN
    if (read && !open && !fed && lengthSec < this.periodSec) {
      const after = this.input.afterEdge(k, span, lengthSec, doubt)
      if (after !== null) {
        step.voltage = after.voltage
        step.edgeDoubt = after.doubt
      }
    }
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
      step.classIndex = this.classes.ofPeriods(0)
      this.merger.add()
      return false
    }
    this.merger?.flush()
    step.classIndex = whole ? this.classes.ofPeriods(0) : this.classes.ofLength(lengthSec)
    if (!this.classes.currentFits(lengthSec, whole) && !fed) step.current = Number.NaN
    if (open && !this.classes.voltageFits(lengthSec, whole)) step.voltage = Number.NaN
    this.builder.push(step)
    return false
  }

  private enterSpan(span: number): void {
    this.merger?.setLimits(mergeLimits(this.signals, this.spans, span, this.periodSec))
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
