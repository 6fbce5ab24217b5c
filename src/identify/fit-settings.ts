import type { BrushDropLaw, FrictionLaw } from '../records/law.ts'
import type { ParameterName } from '../records/parameter.ts'

/** How an identification is asked for. */
export interface FitSettings {
  /** Parameters held at a value, in SI. */
  readonly fixed: Readonly<Partial<Record<ParameterName, number>>>
  /** Parameters that are fitted even where the evidence would leave them out. */
  readonly freed: readonly ParameterName[]
  /** At which R, L and k are reported. */
  readonly referenceTemperatureCelsius: number
  /** Law of the brush drop; left out: evidence decides. */
  readonly brushDropLaw?: BrushDropLaw
  /**
   * One friction for both directions, or a viscous friction of its own for each; left out: one, and the
   * fit says where the runs contradict it.
   */
  readonly frictionLaw?: FrictionLaw
  /** Clips residuals that lie far out; left out: yes. */
  readonly robust?: boolean
  /** Relative change of both constants a kelvin of magnet temperature; left out: 0. */
  readonly magnetPerKelvin?: number
}

export interface FitProgress {
  /** Share done, 0 to 1. */
  readonly fraction: number
  readonly text: string
}

/** Told as a fit gets on; false asks it to stop. */
export type OnFitProgress = (progress: FitProgress) => boolean

/** Why a fit could not be made at all: one line, with what would be right. */
export interface FitFault {
  readonly code: 'no-runs' | 'no-usable-runs' | 'bad-setting' | 'cancelled'
  readonly text: string
}

export const CANCELLED: FitFault = {
  code: 'cancelled',
  text: 'the fit was cancelled; nothing is kept',
}
