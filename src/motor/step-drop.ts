import { PART_COUNTS } from './block-cache.ts'
import { BrushDrop, type Switching, swingAmp } from './brush-drop.ts'
import type { ModelPoint } from './parameters.ts'
import { AT } from './step-matrices.ts'

/** Above so many knee currents the drop is constant; a change of this many knees bends it. */
const STRAIGHT_KNEES = 3
const BEND_KNEES = 0.3

/**
 * What comes off the voltage of a step beside the resistance of its block: the drop at the brushes, and at the
 * resistance that the block leaves out. Both at the step's mean current, which depends on them.
 */
export class StepDrop {
  /** −∂(drop)/∂(mean current) of the last step. */
  slopeOhm = 0
  /** At the last step's mean current, where the drop bends. */
  readonly middle = new BrushDrop()
  /** Resistance that the block leaves out. */
  excessOhm = 0

  private readonly switching: Switching | null
  /** At whatever current is asked for. */
  private readonly brush = new BrushDrop()
  private swing = 0
  private point!: ModelPoint

  constructor(switching: Switching | null) {
    this.switching = switching
  }

  begin(point: ModelPoint): void {
    this.point = point
  }

  /** No current flows in the step. */
  none(): void {
    this.slopeOhm = 0
    this.swing = 0
  }

  /**
   * @param free mean current of the step as it would be without a drop
   * @param gain of the mean current by the voltage of the step
   * @param amp current at the start of the step
   * @param polarity sense of the current, +1 or −1
   * @param ripple variance of the current about its mean
   */
  over(
    block: Float64Array,
    at: number,
    voltage: number,
    free: number,
    amp: number,
    polarity: number,
    ripple: number,
  ): number {
    const { brushDropVolt: drop, brushKneeAmp: knee } = this.point
    const gain = block[at + AT.meanCurrent + 2]!
    if (knee > 0) {
      this.swing = swingAmp(this.switching, voltage, this.point.inductanceHenry)
      return this.bent(free, gain, amp, ripple)
    }
    this.none()
    const jump = drop > 0 ? polarity * drop : 0
    return jump + this.excess(free - gain * jump, gain)
  }

  /** Drop at the resistance that the block leaves out, for the mean current ī. */
  private excess(free: number, gain: number): number {
    if (this.excessOhm === 0) return 0
    this.slopeOhm = -this.excessOhm
    return (this.excessOhm * free) / (1 + gain * this.excessOhm)
  }

  /**
   * r ī + V(ī), with r the resistance that the block leaves out, V the drop at the brushes and ī the mean
   * current of the step: Newton's method on ī + g (r ī + V(ī)) = ī₀.
   */
  private bent(free: number, gain: number, amp: number, ripple: number): number {
    const { middle: brush, point, swing, excessOhm: excess } = this
    const { brushDropVolt: drop, brushKneeAmp: knee } = point
    const linear = 1 + gain * excess
    const far = (Math.abs(free) - gain * drop) / linear
    let mean = Math.sign(free) * far
    if (far < STRAIGHT_KNEES * 2 * knee + swing) {
      mean = amp
      const low = (free - gain * drop) / linear
      const high = (free + gain * drop) / linear
      for (let n = 0; n < 20; n++) {
        // The root lies between the current with the whole drop and that against it.
        mean = Math.min(Math.max(mean, low), high)
        brush.at(mean, point, swing)
        const error = mean * linear - free + gain * brush.volt
        const slope = linear + gain * brush.slopeOhm
        const change = error / Math.max(slope, 0.25)
        mean -= change
        if (Math.abs(change) < 1e-9 * knee) break
      }
    }
    brush.at(mean, point, swing)
    this.slopeOhm = -excess - brush.slopeOhm
    // Mean of the drop over a rippling current, to second order; a swing is in the drop already.
    const bend = ripple > 0 && swing === 0 ? (brush.bend * ripple) / 2 : 0
    return excess * mean + brush.volt + bend
  }

  /**
   * What the brush drop adds to the resistance of a step: its slope at one current, or over a step from
   * that to another.
   */
  ohm(from: number, to: number): number {
    const { brushDropVolt: drop, brushKneeAmp: knee } = this.point
    if (!(knee > 0 && drop > 0)) return 0
    if (Math.abs(to - from) <= 0.01 * knee) {
      return this.brush.at(from, this.point, this.swing).slopeOhm
    }
    return (this.at(to, 0) - this.at(from, 0)) / (to - from)
  }

  /** The drop at the brushes at a current, in the present step's swing; of a drop that jumps, by its sense. */
  at(amp: number, polarity: number): number {
    const { brushDropVolt, brushKneeAmp } = this.point
    if (brushKneeAmp === 0) return brushDropVolt * polarity
    return this.brush.at(amp, this.point, this.swing).volt
  }

  /** Into how many parts the bend asks a step between two currents to be divided; 1 where it is straight. */
  partsFor(from: number, to: number): number {
    const { brushKneeAmp: knee, brushDropVolt: drop } = this.point
    if (!(knee > 0 && drop > 0)) return 1
    const straight = STRAIGHT_KNEES * knee + this.swing
    if (Math.abs(from) > straight && Math.abs(to) > straight) return 1
    const bends = Math.abs(to - from) / (BEND_KNEES * (knee + this.swing))
    if (bends < 1) return 1
    return PART_COUNTS.find(count => bends <= count) ?? 8
  }
}
