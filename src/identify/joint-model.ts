import type { Layout } from '../motor/motor-state.ts'
import { type Coordinate, coordinateValue, type ModelPoint } from '../motor/parameters.ts'
import type { NoiseLevels, PreparedRun } from '../motor/prepared-run.ts'
import { type ObserverSetting, RunObserver } from '../motor/run-observer.ts'
import { triangleAt, triangleSize } from '../numerics/symmetric.ts'

/** One run in the joint fit. */
export interface Member {
  readonly run: PreparedRun
  noise: NoiseLevels
  /**
   * Variance of the logarithm of this run's resistance about the motor's (angle of a locked shaft,
   * start temperature); 0 where it is the motor's.
   */
  offsetVariance: number
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
}

/** Where a fit stands: the motor, and the logarithms of the runs' resistances over the motor's. */
export interface JointPoint {
  readonly motor: ModelPoint
  readonly offsets: Float64Array
}

/** Sums of one run before its offset is eliminated. */
export interface RunSums {
  readonly gradient: Float64Array
  readonly information: Float64Array
}

/** Cost, gradient and information of all runs together, the runs' offsets eliminated. */
export interface JointSums {
  readonly cost: number
  readonly readings: number
  readonly gradient: Float64Array
  readonly information: Float64Array
  readonly runs: readonly RunSums[]
}

/**
 * All runs of a motor under one set of parameters. The offset of a run (a nuisance) is eliminated from
 * its normal equations, so that only the shared parameters are left:
 *   N_r − n nᵀ / (n_R + 1/s²), with n the column of ln R in N_r and n_R its diagonal element.
 */
export class JointModel {
  readonly members: readonly Member[]
  readonly observers: readonly RunObserver[]
  readonly choices: JointChoices
  readonly size: number
  readonly resistanceColumn: number
  /** Whitened residuals are clipped here; Infinity for plain least squares. */
  clip = Number.POSITIVE_INFINITY

  constructor(members: readonly Member[], choices: JointChoices) {
    this.members = members
    this.choices = choices
    this.size = choices.layout.coordinates.length
    this.resistanceColumn = choices.layout.coordinates.indexOf('lnResistance')
    this.observers = members.map(
      member => new RunObserver(member.run, choices.layout, choices.setting),
    )
  }

  setGains(point: JointPoint): void {
    for (let r = 0; r < this.observers.length; r++) this.setGainsOf(r, point)
  }

  /** Gains of one run at a point; returns −2 ln of its likelihood there, up to a constant. */
  setGainsOf(r: number, point: JointPoint): number {
    const observer = this.observers[r]!
    observer.lnResistanceOffset = point.offsets[r]!
    const { noise } = this.members[r]!
    const { logDeterminant, cost } = observer.setGains(point.motor, noise, this.clip)
    return logDeterminant + cost
  }

  evaluate(point: JointPoint, slopes: boolean, cells = false): JointSums {
    const { size } = this
    const gradient = new Float64Array(size)
    const information = new Float64Array(triangleSize(size))
    let cost = 0
    let readings = 0
    const runs: RunSums[] = []
    this.observers.forEach((observer, r) => {
      const offset = point.offsets[r]!
      observer.lnResistanceOffset = offset
      const sums = observer.evaluate(point.motor, { slopes, clip: this.clip, cells })
      cost += sums.cost
      readings += sums.readings
      const { offsetVariance } = this.members[r]!
      if (offsetVariance > 0) cost += (offset * offset) / offsetVariance
      if (!slopes) return
      const own = { gradient: sums.gradient.slice(), information: sums.information.slice() }
      runs.push(own)
      addTo(gradient, own.gradient)
      addTo(information, own.information)
      this.eliminate(own, offset, offsetVariance, gradient, information)
    })
    for (const { coordinate, mean, variance } of this.choices.priors) {
      const j = this.choices.layout.coordinates.indexOf(coordinate)
      if (j < 0) continue
      const distance = coordinateValue(point.motor, coordinate) - mean
      cost += (distance * distance) / variance
      gradient[j]! += distance / variance
      information[triangleAt(j, j)]! += 1 / variance
    }
    return { cost, readings, gradient, information, runs }
  }

  private eliminate(
    own: RunSums,
    offset: number,
    variance: number,
    gradient: Float64Array,
    information: Float64Array,
  ): void {
    const column = this.resistanceColumn
    if (column < 0 || variance === 0) return
    const pivot = own.information[triangleAt(column, column)]! + 1 / variance
    const slope = own.gradient[column]! + offset / variance
    for (let j = 0; j < this.size; j++) {
      const n = own.information[triangleAt(j, column)]!
      gradient[j]! -= (n * slope) / pivot
      for (let l = 0; l <= j; l++) {
        information[triangleAt(j, l)]! -= (n * own.information[triangleAt(l, column)]!) / pivot
      }
    }
  }

  /** Offsets after the shared coordinates took `step` from where `sums` were made. */
  moveOffsets(offsets: Float64Array, sums: JointSums, step: Float64Array): Float64Array {
    const column = this.resistanceColumn
    if (column < 0) return offsets
    return offsets.map((offset, r) => {
      const { offsetVariance } = this.members[r]!
      if (offsetVariance === 0) return 0
      const { gradient, information } = sums.runs[r]!
      let slope = gradient[column]! + offset / offsetVariance
      for (let j = 0; j < this.size; j++) slope += information[triangleAt(j, column)]! * step[j]!
      return offset - slope / (information[triangleAt(column, column)]! + 1 / offsetVariance)
    })
  }
}

function addTo(sum: Float64Array, part: Float64Array): void {
  for (let j = 0; j < sum.length; j++) sum[j]! += part[j]!
}
