import type { Layout, MotorState } from './motor-state.ts'
import { GAIN_SIZE } from './observer-gain.ts'
import type { ModelPoint } from './parameters.ts'
import type { PassSums } from './pass-sums.ts'
import { isOpen, PHASE, type PreparedRun } from './prepared-run.ts'

/**
 * An observer's second half of a step: the readings less what was predicted, whitened, are residuals, and the
 * state is corrected by the step's gain, with the derivatives of both.
 */
export class ReadingComparison {
  /** `GAIN_SIZE` numbers a step. */
  readonly gains: Float64Array
  /** Two a step, of the last pass. */
  readonly residuals: Float64Array

  private readonly run: PreparedRun
  private readonly state: MotorState
  private readonly backEmfColumn: number
  private readonly voltageZeroColumn: number
  private readonly currentZeroColumn: number
  private readonly speedZeroColumn: number

  constructor(run: PreparedRun, state: MotorState, { coordinates }: Layout) {
    this.run = run
    this.state = state
    this.gains = new Float64Array(GAIN_SIZE * run.stepCount)
    this.residuals = new Float64Array(2 * run.stepCount)
    this.backEmfColumn = coordinates.indexOf('lnBackEmf')
    this.voltageZeroColumn = coordinates.indexOf('voltageZero')
    this.currentZeroColumn = coordinates.indexOf('currentZero')
    this.speedZeroColumn = coordinates.indexOf('speedZero')
  }

  /**
   * Compares the readings of step `k` with the state's and corrects the state.
   * @param clip whitened residuals beyond it count by their size instead of their square
   * @param total takes cost and readings
   * @param cell takes what the derivatives say, if there are any, and, where it is not `total`, its own cost; null without
   */
  compare(
    k: number,
    point: ModelPoint,
    clip: number,
    total: PassSums,
    cell: PassSums | null,
  ): void {
    const { run, state, gains, residuals } = this
    const g = GAIN_SIZE * k
    const w11 = gains[g + 4]!
    const w22 = gains[g + 6]!
    if (w11 === 0 && w22 === 0) {
      residuals[2 * k] = 0
      residuals[2 * k + 1] = 0
      return
    }
    const phase = run.phase[k]!
    const open = isOpen(phase)
    const w21 = gains[g + 5]!
    const zero1 = open ? point.voltageZeroVolt : point.currentZeroAmp
    const measured1 = open ? run.voltage[k]! : run.current[k]!
    let n1 = w11 === 0 ? 0 : measured1 - zero1 - state.reading[0]!
    let n2 = w22 === 0 ? 0 : run.speed[k]! - point.speedZeroRadPerSec - state.reading[1]!
    let z1 = w11 * n1
    let z2 = w21 * n1 + w22 * n2
    residuals[2 * k] = z1
    residuals[2 * k + 1] = z2
    let weight1 = 1
    let weight2 = 1
    if (z1 > clip || z1 < -clip || z2 > clip || z2 < -clip) {
      weight1 = Math.min(1, clip / Math.abs(z1))
      weight2 = Math.min(1, clip / Math.abs(z2))
      total.cost += huberCost(z1, clip) + huberCost(z2, clip)
      total.clipped += (weight1 < 1 ? 1 : 0) + (weight2 < 1 ? 1 : 0)
      z1 *= weight1
      z2 *= weight2
      n1 = w11 === 0 ? 0 : z1 / w11
      n2 = w22 === 0 ? 0 : (z2 - w21 * n1) / w22
    } else total.cost += z1 * z1 + z2 * z2
    const readings = (w11 === 0 ? 0 : 1) + (w22 === 0 ? 0 : 1)
    total.readings += readings

    if (state.conducting) state.x[0]! += gains[g]! * n1 + gains[g + 1]! * n2
    if (state.turning) state.x[1]! += gains[g + 2]! * n1 + gains[g + 3]! * n2

    if (cell !== null) {
      this.addOwnSlopes(phase, open)
      this.gather(g, z1, z2, weight1, weight2, cell)
      if (cell !== total) {
        cell.readings += readings
        cell.cost += z1 * z1 + z2 * z2
      }
    }
    // A correction may not turn the shaft round or reverse the current: that is a transition.
    if (state.turning && state.direction * state.x[1]! < 0) state.x[1] = 0
    if (
      state.conducting &&
      point.brushDropVolt > 0 &&
      point.brushKneeAmp === 0 &&
      state.polarity * state.x[0]! < 0
    ) {
      state.x[0] = 0
    }
  }

  /** What coordinates do to the readings other than through the state. */
  private addOwnSlopes(phase: number, open: boolean): void {
    const { readingSlope1: slope1, readingSlope2: slope2, reading } = this.state
    if (open) {
      if (this.backEmfColumn >= 0) slope1[this.backEmfColumn]! += reading[0]!
      if (this.voltageZeroColumn >= 0) slope1[this.voltageZeroColumn]! += 1
    } else if (phase !== PHASE.currentFed && this.currentZeroColumn >= 0) {
      slope1[this.currentZeroColumn]! += 1
    }
    if (this.speedZeroColumn >= 0) slope2[this.speedZeroColumn]! += 1
  }

  /** Corrects the state's derivatives and adds those of the residuals to the sums. */
  private gather(
    g: number,
    z1: number,
    z2: number,
    weight1: number,
    weight2: number,
    { gradient, information }: PassSums,
  ): void {
    const { gains, state } = this
    const k11 = gains[g]!
    const k12 = gains[g + 1]!
    const k21 = gains[g + 2]!
    const k22 = gains[g + 3]!
    const w11 = gains[g + 4]!
    const w21 = gains[g + 5]!
    const w22 = gains[g + 6]!
    const { slopeI, slopeW, readingSlope1: slope1, readingSlope2: slope2 } = state
    const conducting = state.conducting
    const turning = state.turning
    const p = gradient.length
    for (let j = 0; j < p; j++) {
      const d1 = slope1[j]!
      const d2 = slope2[j]!
      if (conducting) slopeI[j]! -= k11 * d1 + k12 * d2
      if (turning) slopeW[j]! -= k21 * d1 + k22 * d2
      // z = W (measured − predicted): its derivative is −W times that of the prediction.
      slope1[j] = -w11 * d1
      slope2[j] = -w21 * d1 - w22 * d2
    }
    let t = 0
    for (let j = 0; j < p; j++) {
      const a = slope1[j]! * weight1
      const b = slope2[j]! * weight2
      // z already carries its weight.
      gradient[j]! += slope1[j]! * z1 + slope2[j]! * z2
      for (let l = 0; l <= j; l++) information[t++]! += a * slope1[l]! + b * slope2[l]!
    }
  }
}

function huberCost(z: number, clip: number): number {
  const size = Math.abs(z)
  return size <= clip ? z * z : clip * (2 * size - clip)
}
