import type { FitSettings } from './fit-settings.ts'

/** What can be said of a joint fit beyond what every fit is asked. */
export interface JointSettings extends FitSettings {
  /** Law of the brush drop; left out: evidence decides. */
  readonly brushDropLaw?: 'tanh' | 'sgn' | 'none'
  /** Clips residuals that lie far out; left out: yes. */
  readonly robust?: boolean
  /** Relative change of both constants a kelvin of magnet temperature; left out: 0. */
  readonly magnetPerKelvin?: number
}

/** Whitened residuals beyond this many standard deviations count by their size instead of its square. */
export const ROBUST_CLIP = 4
