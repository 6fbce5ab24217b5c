import type { Estimate } from '../statistics/weighted-mean.ts'

/** Drop over both brushes: V_b tanh(i/I_b), or V_b sgn(i) where the knee I_b is 0. */
export interface BrushModel {
  readonly dropVolt: number
  readonly kneeAmp: number
}

export function brushVolt(brush: BrushModel, amp: number): number {
  return brush.dropVolt * (brush.kneeAmp > 0 ? Math.tanh(amp / brush.kneeAmp) : Math.sign(amp))
}

/** Share of the highest voltage that a drop may hide in before it counts as proven absent. */
const ABSENT = 0.005

/**
 * A fitted drop stays in the model when it stands out of its uncertainty, and also while that is too large to say
 * that there is none: leaving it out then would lend the resistance a certainty that it does not have.
 */
export function needsDrop(drop: Estimate, highestVolt: number): boolean {
  return (
    drop.value > 2 * drop.standardUncertainty || drop.standardUncertainty > ABSENT * highestVolt
  )
}
