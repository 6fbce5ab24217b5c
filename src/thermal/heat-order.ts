import type { Estimate } from '../statistics/weighted-mean.ts'
import type { Belief } from './heat-setting.ts'
import type { InsulationClass } from './insulation.ts'
import type { WarmConstant } from './magnet-weakening.ts'
import type { Stall } from './stall-time.ts'

/** What is known beside the run itself. */
export interface HeatOrder {
  readonly motor: string
  readonly insulation: InsulationClass
  /** For the limits. */
  readonly ambientCelsius: number
  readonly frictionWatt: number
  readonly stall: Stall | null
  /** Drop of both brushes and its knee, from an identification; null: usual, and left to the run. */
  readonly brushDrop: (Belief & { readonly kneeAmp: number }) | null
  /** Brushes and leads, ohm; null: a usual share. */
  readonly contactOhm: number | null
  readonly backEmfConstant: (Estimate & { readonly magnetCelsius: number }) | null
  readonly torqueConstant: (Estimate & { readonly magnetCelsius: number }) | null
  readonly dragNm: number
  readonly declaredMagnets: {
    readonly perKelvin: number
    readonly standardUncertainty: number
  } | null
  /** From other tests of the motor, soaked at a known temperature. */
  readonly warmConstants: readonly WarmConstant[]
}
