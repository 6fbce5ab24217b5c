import type { Layout } from '../motor/motor-state.ts'
import { type Coordinate, coordinateValue, type ModelPoint } from '../motor/parameters.ts'
import type { NoiseLevels, PreparedRun } from '../motor/prepared-run.ts'
import { type ObserverSetting, RunObserver } from '../motor/run-observer.ts'
import { triangleAt, triangleSize } from '../numerics/symmetric.ts'

/** One run in the joint fit. */
export interface Member {
  readonly run: PreparedRun
  /** The run, or pieces of it where it is long: for noise levels and rough values. */
  readonly excerpt: PreparedRun
  noise: NoiseLevels
  /**
   * Runs of one group share a resistance that may differ from the motor's: a rotor locked at one angle;
   * all runs that start turning from where the shaft happens to rest. Counted from 0 without gaps.
   */
  readonly group: number
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

/** Where a fit stands: the motor, and the logarithm of each group's resistance over the motor's. */
export interface JointPoint {
  readonly motor: ModelPoint
  readonly offsets: Float64Array
}

/** Sums of one run, or of one group, before its offset is eliminated. */
export interface PartSums {
  readonly gradient: Float64Array
  readonly information: Float64Array
}

/** Cost, gradient and information of all runs together, the groups' offsets eliminated. */
export interface JointSums {
  readonly cost: number
  readonly readings: number
  readonly gradient: Float64Array
  readonly information: Float64Array
  readonly runs: readonly PartSums[]
  readonly groups: readonly PartSums[]
}

/**
 * All runs of a motor under one set of parameters. The offset of a group (a nuisance) is eliminated from
 * its normal equations, so that only the shared parameters are left:
 *   N_g − n nᵀ / (n_R + 1/s²), with n the column of ln R in N_g and n_R its diagonal element.
 */
export class JointModel {
  readonly members: readonly Member[]
  readonly observers: readonly RunObserver[]
  readonly choices: JointChoices
  readonly size: number
  readonly resistanceColumn: number
  readonly groupCount: number
  /** Variance of the groups' offsets; 0: all runs have the motor's resistance. */
  offsetVariance: number
  /** Whitened residuals are clipped here; Infinity for plain least squares. */
  clip = Number.POSITIVE_INFINITY

  constructor(
    members: readonly Member[],
    choices: JointChoices,
    groupCount: number,
    offsetVariance: number,
  ) {
    this.members = members
    this.offsetVariance = offsetVariance
    this.groupCount = groupCount
    this.choices = choices
    this.size = choices.layout.coordinates.length
    this.resistanceColumn = choices.layout.coordinates.indexOf('lnResistance')
    this.observers = members.map(
      member => new RunObserver(member.run, choices.layout, choices.setting),
    )
  }

  /** Computes the gains of all runs at a point. */
  setGains(point: JointPoint): void {
    this.observers.forEach((observer, r) => {
      const { noise, group } = this.members[r]!
      observer.lnResistanceOffset = point.offsets[group]!
      observer.setGains(point.motor, noise, this.clip)
    })
  }

  evaluate(point: JointPoint, slopes: boolean, cells = false): JointSums {
    const { size } = this
    const gradient = new Float64Array(size)
    const information = new Float64Array(triangleSize(size))
    let cost = 0
    let readings = 0
    const runs: PartSums[] = []
    const groups = Array.from({ length: this.groupCount }, () => emptyPart(size))
    this.observers.forEach((observer, r) => {
      const { group } = this.members[r]!
      observer.lnResistanceOffset = point.offsets[group]!
      const sums = observer.evaluate(point.motor, { slopes, clip: this.clip, cells })
      cost += sums.cost
      readings += sums.readings
      if (!slopes) return
      const own = { gradient: sums.gradient.slice(), information: sums.information.slice() }
      runs.push(own)
      for (const sum of [groups[group]!, { gradient, information }]) {
        addTo(sum.gradient, own.gradient)
        addTo(sum.information, own.information)
      }
    })
    for (let g = 0; g < this.groupCount && this.offsetVariance > 0; g++) {
      const offset = point.offsets[g]!
      cost += (offset * offset) / this.offsetVariance
      if (slopes) this.eliminate(groups[g]!, offset, gradient, information)
    }
    for (const { coordinate, mean, variance } of this.choices.priors) {
      const j = this.choices.layout.coordinates.indexOf(coordinate)
      if (j < 0) continue
      const distance = coordinateValue(point.motor, coordinate) - mean
      cost += (distance * distance) / variance
      gradient[j]! += distance / variance
      information[triangleAt(j, j)]! += 1 / variance
    }
    return { cost, readings, gradient, information, runs, groups }
  }

  private eliminate(
    own: PartSums,
    offset: number,
    gradient: Float64Array,
    information: Float64Array,
  ): void {
    const column = this.resistanceColumn
    if (column < 0) return
    const variance = this.offsetVariance
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
    const variance = this.offsetVariance
    if (variance === 0) return new Float64Array(offsets.length)
    return offsets.map((offset, g) => {
      const { gradient, information } = sums.groups[g]!
      let slope = gradient[column]! + offset / variance
      for (let j = 0; j < this.size; j++) slope += information[triangleAt(j, column)]! * step[j]!
      return offset - slope / (information[triangleAt(column, column)]! + 1 / variance)
    })
  }
}

function emptyPart(size: number): PartSums {
  return {
    gradient: new Float64Array(size),
    information: new Float64Array(triangleSize(size)),
  }
}

function addTo(sum: Float64Array, part: Float64Array): void {
  for (let j = 0; j < sum.length; j++) sum[j]! += part[j]!
}
