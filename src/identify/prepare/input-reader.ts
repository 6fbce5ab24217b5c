import { firstAtOrAfter } from '../../base/first-at-or-after.ts'
import type { ChannelTraits } from '../../records/recording.ts'
import type { RunSignals, Signal } from '../../signals/run-signals.ts'
import type { BridgeSpan } from './bridge-spans.ts'
import { LENGTH_STEP, STAMP_TOLERANCE } from './step-classes.ts'

/** Freewheeling counts as over where the current is below this share of its reach, or within noise. */
const FREEWHEEL_SHARE = 0.005
/** A shorter piece of a period is not told from the mean over the whole. */
const LEAST_SHARE = 0.05

/** What is known of the input over one step: its mean, and a doubt as a variance of voltage × time. */
export interface InputAfterEdge {
  readonly voltage: number
  readonly doubt: number
}

/** What drives the model in each step, from readings that lie wholly within one span of the bridge. */
export class InputReader {
  private readonly signals: RunSignals
  private readonly time: Float64Array
  private readonly periodSec: number
  private readonly spans: readonly BridgeSpan[]
  /** A PWM period; 0 where the bridge does not switch. */
  private readonly pulseSec: number
  private memoFirst = { startSec: Number.NaN, index: 0 }
  private memoLast = { endSec: Number.NaN, index: 0 }

  constructor(signals: RunSignals, spans: readonly BridgeSpan[], periodSec: number) {
    const { switchingHz } = signals.run.conditions
    this.signals = signals
    this.time = signals.timeSec!
    this.periodSec = periodSec
    this.spans = spans
    this.pulseSec = switchingHz ? 1 / switchingHz : 0
  }

  /**
   * The input over the step that ends with sample k: readings of its span, brought to the middle of the
   * step. Readings whose aperture reaches over an edge are not used.
   */
  held(signal: Signal, k: number, span: number): number {
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
   * of a supply that gives way to a current which has not risen yet. Null where it cannot be told.
   * @param doubt of the moment of the edge
   */
  afterEdge(k: number, span: number, lengthSec: number, doubt: number): InputAfterEdge | null {
    const { values, noise, traits } = this.signals.voltage!
    const { time, periodSec, spans } = this
    const grid = STAMP_TOLERANCE * periodSec
    if (Math.abs(traits.apertureSec - periodSec) > grid || traits.delaySec > grid) return null
    const before = spans[span - 1]
    const share = lengthSec / periodSec
    if (before === undefined || k < 2 || share < LEAST_SHARE || share > 1 - LENGTH_STEP) return null
    if (
      before.startSec > time[k - 2]! ||
      Math.abs(spans[span]!.startSec + lengthSec - time[k]!) > grid
    ) {
      return null
    }
    if (before.terminals === 'open' && !this.freewheelOver(k - 1)) return null
    const mean = (values[k]! - (1 - share) * values[k - 1]!) / share
    if (!Number.isFinite(mean)) return null
    // Of its noise as voltage times time the step itself brings share² already.
    const ownNoise = (noise * periodSec) ** 2 * (1 + (1 - share) ** 2 - share ** 2)
    // A reading says what came before the edge as well, but not where in its period a pulse began.
    return { voltage: mean, doubt: this.pulseSec > 0 ? doubt + ownNoise : ownNoise }
  }

  /** A reading of the very moment of an edge belongs to what was before it. */
  private firstPure({ apertureSec, delaySec }: ChannelTraits, startSec: number): number {
    if (this.memoFirst.startSec === startSec) return this.memoFirst.index
    const tie = (apertureSec > 0 ? -1e-6 : 1e-6) * this.periodSec
    const index = firstAtOrAfter(this.time, startSec + apertureSec + delaySec + tie)
    this.memoFirst = { startSec, index }
    return index
  }

  private lastPure(delaySec: number, endSec: number): number {
    if (this.memoLast.endSec === endSec) return this.memoLast.index
    const tie = 1e-6 * this.periodSec
    const index = firstAtOrAfter(this.time, endSec + delaySec + tie) - 1
    this.memoLast = { endSec, index }
    return index
  }

  /** Doubt about the moment of a span's start, as a variance of voltage × time. */
  edgeDoubt(span: number): number {
    const { doubtSec, startSec, terminals } = this.spans[span]!
    const voltage = this.signals.voltage
    // Pulses begin anywhere in the period in which the bridge was told to.
    const variance = doubtSec ** 2 + this.pulseSec ** 2 / 12
    if (variance === 0 || voltage === null || terminals === 'open') return 0
    const before = firstAtOrAfter(this.time, startSec) - 2
    const after = firstAtOrAfter(this.time, startSec) + 2
    const old = voltage.values[Math.max(0, before)]!
    const now = voltage.values[Math.min(this.time.length - 1, after)]!
    const jump = now - old
    return Number.isFinite(jump) ? jump ** 2 * variance : 0
  }

  freewheelOver(k: number): boolean {
    const { current } = this.signals
    if (current === null) return true
    const limit = Math.max(5 * current.noise, FREEWHEEL_SHARE * current.reach)
    return Math.abs(current.values[k]!) <= limit
  }
}
