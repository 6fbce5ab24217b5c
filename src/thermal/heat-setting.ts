import type { HeatStart } from './heat-course.ts'

/** A belief from outside the run, as a normal distribution. */
export interface Belief {
  readonly value: number
  readonly standardUncertainty: number
}

export interface HeatSetting extends HeatStart {
  readonly brushDrop: Belief
  /** Of the logarithm of the knee in A. */
  readonly brushKnee: Belief
  /** Share of the resistance that is not winding; no reading tells it. */
  readonly steadyShare: Belief
  readonly backEmfVsPerRad: number
}
