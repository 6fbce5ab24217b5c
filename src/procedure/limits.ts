/** What no plan may exceed and the watch enforces. All finite but the speed, which may be unlimited. */
export interface EffectiveLimits {
  readonly currentAmp: number
  /** Which of the limits given is the lowest, in words: `the supply's current limit`. */
  readonly currentLimitedBy: string
  readonly voltageVolt: number
  readonly voltageLimitedBy: string
  /** Bus voltage above which the watch opens the bridge. */
  readonly busVolt: number
  readonly speedRadPerSec: number
  /** Accumulated rise of the hottest coil. */
  readonly riseKelvin: number
  readonly stallSec: number
  readonly stepSec: number
}
