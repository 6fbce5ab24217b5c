import type { ModelPoint } from './parameters.ts'
import {
  blockSize,
  fillEndBlock,
  fillStepBlock,
  type MatrixCoordinate,
  type StepClass,
} from './step-matrices.ts'
import { equalParts, type StepPart } from './step-parts.ts'

/** Width of one step of the cache in ln of resistance: 12 K of copper. What is left is an input of the step. */
const LN_RESISTANCE_STEP = 0.05
const MODES = 4
/** A step in which the brush drop bends is made in two, four or eight equal parts. */
export const PART_COUNTS = [2, 4, 8] as const
/** Places of the parts of each count in a table: 2 + 4 + 8. */
const PART_PLACES = 14

/**
 * Step matrices of one run at one point of the parameter space: each (mode, step class,
 * resistance) is computed once. The block at offset 0 is free for steps that occur once.
 */
export class BlockCache {
  data: Float64Array
  private readonly size: number
  private readonly classes: readonly StepClass[]
  private readonly coordinates: readonly MatrixCoordinate[]
  private readonly tied: boolean
  private readonly parts = new Map<number, StepPart[]>()
  private readonly tables = new Map<number, Int32Array>()
  private used = 1
  private point!: ModelPoint
  private table!: Int32Array
  private bin = 0
  /** Resistance for which the current table's blocks stand. */
  blockOhm = 0

  constructor(
    classes: readonly StepClass[],
    coordinates: readonly MatrixCoordinate[],
    tied: boolean,
  ) {
    this.classes = classes
    this.coordinates = coordinates
    this.tied = tied
    this.size = blockSize(coordinates.length)
    this.data = new Float64Array(this.size * 32)
  }

  /** Blocks already made are kept while the point is the same. */
  begin(point: ModelPoint): void {
    if (point === this.point) return
    this.point = point
    this.tables.clear()
    this.used = 1
    this.bin = Number.NaN
    this.setResistance(point.resistanceOhm)
  }

  /** Chooses the blocks whose resistance is nearest to `ohm`; `blockOhm` says which it is. */
  setResistance(ohm: number): void {
    const bin = Math.round(Math.log(ohm / this.point.resistanceOhm) / LN_RESISTANCE_STEP)
    if (bin === this.bin) return
    this.bin = bin
    this.blockOhm = this.point.resistanceOhm * Math.exp(bin * LN_RESISTANCE_STEP)
    let table = this.tables.get(bin)
    if (table === undefined) {
      table = new Int32Array(MODES * this.classes.length * (1 + PART_PLACES))
      this.tables.set(bin, table)
    }
    this.table = table
  }

  /** Offset of the block of a mode and a step class at the resistance last set. */
  find(mode: number, classIndex: number): number {
    const key = mode * this.classes.length + classIndex
    const known = this.table[key]!
    return known !== 0 ? known : this.add(key, mode, this.classes[classIndex]!)
  }

  /** Offset of the block of one of `count` equal parts of a step. */
  findPart(mode: number, classIndex: number, count: number, part: number): number {
    // Parts of two stand at 0, of four at 2, of eight at 6.
    const place = 1 + count - 2 + part
    const key = (mode + MODES * place) * this.classes.length + classIndex
    const known = this.table[key]!
    return known !== 0 ? known : this.add(key, mode, this.partsOf(classIndex, count)[part]!.step)
  }

  partsOf(classIndex: number, count: number): readonly StepPart[] {
    const key = classIndex * PART_PLACES + count
    let parts = this.parts.get(key)
    if (parts === undefined) {
      parts = equalParts(this.classes[classIndex]!, count)
      this.parts.set(key, parts)
    }
    return parts
  }

  private add(key: number, mode: number, step: StepClass): number {
    const at = this.used * this.size
    this.used += 1
    if (this.used * this.size > this.data.length) {
      const larger = new Float64Array(this.data.length * 2)
      larger.set(this.data)
      this.data = larger
    }
    this.fill(mode, step, at)
    this.table[key] = at
    return at
  }

  /** Fills the block at offset 0 for a step that occurs once. */
  fillOnce(mode: number, step: StepClass, withSlopes: boolean): void {
    const coordinates = withSlopes ? this.coordinates : NONE
    fillStepBlock(this.point, this.blockOhm, mode, step, coordinates, this.tied, this.data, 0)
  }

  /** As `fillOnce` where only the end of the step is asked for. */
  fillEnd(mode: number, durationSec: number): void {
    fillEndBlock(this.point, this.blockOhm, mode, durationSec, this.data, 0)
  }

  private fill(mode: number, step: StepClass, at: number): void {
    const { point, blockOhm, coordinates, tied, data } = this
    fillStepBlock(point, blockOhm, mode, step, coordinates, tied, data, at)
  }
}

const NONE: readonly MatrixCoordinate[] = []
