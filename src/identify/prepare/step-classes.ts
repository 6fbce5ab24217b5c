import type { StepClass, Window } from '../../motor/step-matrices.ts'
import { type ChannelTraits, PLAIN_TRAITS } from '../../records/recording.ts'
import type { RunSignals } from '../../signals/run-signals.ts'
import type { StepBuilder } from './step-builder.ts'

/** Time stamps may stray by this share of a period before the step's length follows them. */
export const STAMP_TOLERANCE = 0.01
/** Steps of odd length are told apart to this share of a period. */
export const LENGTH_STEP = 1 / 1024

/** Kinds of steps of one run: how long each lasts, and where in it the channels' readings lie. */
export class StepClasses {
  private readonly builder: StepBuilder
  private readonly periodSec: number
  private readonly voltageTraits: ChannelTraits
  private readonly currentTraits: ChannelTraits
  private readonly speedTraits: ChannelTraits
  /** Index of the class of 2^level samples, by level: asked for with every sample. */
  private readonly wholeClasses: number[] = []

  constructor({ voltage, current, speed }: RunSignals, periodSec: number, builder: StepBuilder) {
    this.builder = builder
    this.periodSec = periodSec
    this.voltageTraits = voltage?.traits ?? PLAIN_TRAITS
    this.currentTraits = current?.traits ?? PLAIN_TRAITS
    this.speedTraits = speed?.traits ?? PLAIN_TRAITS
  }

  /** Of 2^level whole periods. */
  ofPeriods(level: number): number {
    const known = this.wholeClasses[level]
    if (known !== undefined) return known
    const samples = 2 ** level
    const index = this.builder.classFor(`${samples}`, () =>
      this.classOf(samples * this.periodSec, samples, true),
    )
    this.wholeClasses[level] = index
    return index
  }

  ofLength(lengthSec: number): number {
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

  currentFits(lengthSec: number, whole: boolean): boolean {
    const { apertureSec, delaySec } = this.currentTraits
    return whole || apertureSec + delaySec <= lengthSec * (1 + 1e-9)
  }

  voltageFits(lengthSec: number, whole: boolean): boolean {
    const { apertureSec, delaySec } = this.voltageTraits
    return whole || apertureSec + delaySec <= lengthSec * (1 + 1e-9)
  }
}
