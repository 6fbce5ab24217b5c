import type { Layout } from '../motor/motor-state.ts'
import { type Coordinate, coordinateValue, type ModelPoint } from '../motor/parameters.ts'
import type { NoiseLevels, PreparedRun } from '../motor/prepared-run.ts'
import { type ObserverSetting, RunObserver } from '../motor/run-observer.ts'
import { triangleAt, triangleSize } from '../numerics/symmetric.ts'

/** One run in the joint fit. */
export interface Member {
  readonly run: PreparedRun
  noise: NoiseLevels
  /** Resistance of this run over the motor's, logarithm: angle of the locked shaft, start temperature. */
  lnResistanceOffset: number
}

/** What is believed of a coordinate before the data: from a calibration. */
export interface Prior {
  readonly coordinate: Coordinate
  readonly mean: number
  readonly variance: number
}

export interface JointChoices {
  readonly layout: Layout
  readonly setting: ObserverSetting
  readonly priors: readonly Prior[]
  /** Variance of the runs' resistance offsets; 0 for none. */
  readonly offsetVariance: number
  /** Whitened residuals are clipped here; Infinity for plain least squares. */
  readonly clip: number
}

/** Where a fit stands: the motor, and the runs' resistance offsets. */
export interface JointPoint {
  readonly motor: ModelPoint
  readonly offsets: Float64Array
}

/** Cost, gradient and information of all runs together, the runs' offsets eliminated. */
export interface JointSums {
  readonly cost: number
  readonly readings: number
  readonly gradient: Float64Array
  readonly information: Float64Array
}

/**
 * All runs of a motor under one set of parameters. Offsets of single runs (nuisances) are eliminated
 * from the normal equations run by run, so that only the shared parameters are left:
 *   N = Σ (N_r − n nᵀ / (n_R + 1/s²)), with n the column of ln R in N_r, n_R its diagonal element.
 */
export class JointModel {
  readonly members: readonly Member[]
  readonly observers: readonly RunObserver[]
  readonly choices: JointChoices
  readonly size: number
  private readonly resistanceColumn: number
  private readonly runGradients: Float64Array[]
  private readonly runInformation: Float64Array[]

  constructor(members: readonly Member[], choices: JointChoices) {
    this.members = members
    this.choices = choices
    this.size = choices.layout.coordinates.length
    this.resistanceColumn =
      choices.offsetVariance > 0 ? choices.layout.coordinates.indexOf('lnResistance') : -1
    this.observers = members.map(
      member => new RunObserver(member.run, choices.layout, choices.setting),
    )
    this.runGradients = members.map(() => new Float64Array(this.size))
    this.runInformation = members.map(() => new Float64Array(triangleSize(this.size)))
  }

  /** Computes the gains at a point; returns −2 ln of the likelihood there, up to a constant. */
  setGains(point: JointPoint): number {
    let sum = 0
    this.observers.forEach((observer, r) => {
      observer.lnResistanceOffset = point.offsets[r]!
      const { logDeterminant, cost } = observer.setGains(
        point.motor,
        this.members[r]!.noise,
        this.choices.clip,
      )
      sum += logDeterminant + cost
    })
    return sum
  }

  evaluate(point: JointPoint, slopes: boolean, cells = false): JointSums {
    const { size } = this
    const gradient = new Float64Array(size)
    const information = new Float64Array(triangleSize(size))
    let cost = 0
    let readings = 0
    this.observers.forEach((observer, r) => {
      observer.lnResistanceOffset = point.offsets[r]!
      const sums = observer.evaluate(point.motor, { slopes, clip: this.choices.clip, cells })
      cost += sums.cost
      readings += sums.readings
      if (this.resistanceColumn >= 0) {
        cost += point.offsets[r]! ** 2 / this.choices.offsetVariance
      }
      if (!slopes) return
      this.runGradients[r]!.set(sums.gradient)
      this.runInformation[r]!.set(sums.information)
      addTo(gradient, sums.gradient)
      addTo(information, sums.information)
      this.eliminate(r, point.offsets[r]!, gradient, information)
    })
    for (const { coordinate, mean, variance } of this.choices.priors) {
      const j = this.choices.layout.coordinates.indexOf(coordinate)
      if (j < 0) continue
      const distance = coordinateValue(point.motor, coordinate) - mean
      cost += (distance * distance) / variance
      gradient[j]! += distance / variance
      information[triangleAt(j, j)]! += 1 / variance
    }
    return { cost, readings, gradient, information }
  }

  private eliminate(
    r: number,
    offset: number,
    gradient: Float64Array,
    information: Float64Array,
  ): void {
    const column = this.resistanceColumn
    if (column < 0) return
    const own = this.runInformation[r]!
    const precision = 1 / this.choices.offsetVariance
    const pivot = own[triangleAt(column, column)]! + precision
    const slope = this.runGradients[r]![column]! + offset * precision
    for (let j = 0; j < this.size; j++) {
      const n = own[triangleAt(j, column)]!
      gradient[j]! -= (n * slope) / pivot
      for (let l = 0; l <= j; l++) {
        information[triangleAt(j, l)]! -= (n * own[triangleAt(l, column)]!) / pivot
      }
    }
  }

  /** Offsets after the shared coordinates took `step`, by the last evaluation with slopes. */
  moveOffsets(offsets: Float64Array, step: Float64Array): Float64Array {
    const column = this.resistanceColumn
    if (column < 0) return offsets
    const precision = 1 / this.choices.offsetVariance
    return offsets.map((offset, r) => {
      const own = this.runInformation[r]!
      let slope = this.runGradients[r]![column]! + offset * precision
      for (let j = 0; j < this.size; j++) slope += own[triangleAt(j, column)]! * step[j]!
      return offset - slope / (own[triangleAt(column, column)]! + precision)
    })
  }
}

function addTo(sum: Float64Array, part: Float64Array): void {
  for (let j = 0; j < sum.length; j++) sum[j]! += part[j]!
}
