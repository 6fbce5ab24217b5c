import type { PreparedRun } from '../motor/prepared-run.ts'
import { cholesky, invertCholesky, triangleAt, triangleSize } from '../numerics/symmetric.ts'
import { chiSquareP } from '../statistics/distributions.ts'
import type { JointModel, JointPoint, JointSums } from './joint-model.ts'

/**
 * Batches in which residuals may hang together: an eighth of a span, a span between edges, a run; and,
 * across runs, what was measured at like speed or like current, where a law of friction or of the brush
 * drop that is not quite the model's leaves its trace.
 */
export const LEVELS = ['cell', 'span', 'run', 'speed', 'current'] as const

export type Level = (typeof LEVELS)[number]

/** What batches of one size say. */
export interface LevelFinding {
  readonly batches: number
  /** Σ uᵀ M⁻¹ u over the batches' scores u: χ² with so many degrees of freedom if residuals are white. */
  readonly chiSquare: number
  readonly degreesOfFreedom: number
  readonly p: number
  /** Variance of each coordinate from the scatter of the batches, and how well it is known. */
  readonly variance: Float64Array
  readonly freedom: Float64Array
}

export interface RobustCovariance {
  /** Of the coordinates, after whatever inflation the residuals ask for. */
  readonly matrix: number[][]
  /** Degrees of freedom of each variance. */
  readonly freedom: number[]
  /** As white residuals would have it: the inverse of the information. */
  readonly white: number[][]
  readonly findings: Readonly<Record<Level, LevelFinding>>
  /** The residuals contradict white noise: variances follow the batches. */
  readonly misfit: boolean
}

/** Below this probability white residuals are given up. */
const MISFIT_P = 1e-5
const LEAST_FREEDOM = 1.5
const ACROSS_RUNS: ReadonlySet<Level> = new Set<Level>(['run', 'speed', 'current'])
/** Steps in which speed and current are told apart. */
const BINS = 12

/**
 * Covariance of the shared coordinates. White residuals: the inverse of the information matrix. Where
 * the scores of batches scatter more than white residuals would let them, nobody knows which batches
 * are independent: each variance is the largest that a kind of batches gives, with the degrees of
 * freedom that so few batches leave (Satterthwaite), and the correlations stay those of the
 * information matrix. Null where that cannot be inverted.
 */
export function robustCovariance(
  model: JointModel,
  point: JointPoint,
  sums: JointSums,
): RobustCovariance | null {
  const n = model.size
  const factor = cholesky(sums.information, n, 1e-14)
  if (factor === null) return null
  const white = invertCholesky(factor, n)
  model.evaluate(point, true, true)
  const cells = batchesOfCells(model, sums)
  const findings = {
    cell: findingOf(cells, white, n),
    span: findingOf(
      joined(cells, batch => batch.span),
      white,
      n,
    ),
    run: findingOf(
      joined(cells, batch => batch.run),
      white,
      n,
    ),
    speed: findingOf(
      joined(cells, batch => batch.speed),
      white,
      n,
    ),
    current: findingOf(
      joined(cells, batch => batch.current),
      white,
      n,
    ),
  }
  const misfit = LEVELS.some(level => findings[level].p < MISFIT_P)
  const column = model.resistanceColumn
  const scale = new Float64Array(n).fill(1)
  const readings = varianceOfReadings(model, sums)
  const freedom = new Array<number>(n).fill(sums.readings - n)
  for (let j = 0; misfit && j < n; j++) {
    const whole = white[j]![j]!
    // How much resistances differ between groups is no matter of the residuals within a run.
    const between = j === column && readings !== null ? Math.max(0, whole - readings[j]!) : 0
    const base = whole - between
    let largest = base
    for (const level of LEVELS) {
      // What differs between groups of runs is in the offsets already.
      if (j === column && model.offsetVariance > 0 && ACROSS_RUNS.has(level)) continue
      const { variance, freedom: known } = findings[level]
      const own = (variance[j]! * base) / whole
      if (known[j]! < LEAST_FREEDOM || own <= largest) continue
      largest = own
      freedom[j] = known[j]!
    }
    scale[j] = Math.sqrt((between + largest) / whole)
  }
  // Between groups of runs a resistance is known no better than so few groups tell.
  if (column >= 0 && model.offsetVariance > 0) {
    freedom[column] = Math.min(freedom[column]!, Math.max(1, model.groupCount - 1))
  }
  const matrix = white.map((row, j) => row.map((value, l) => value * scale[j]! * scale[l]!))
  return { matrix, freedom, white, findings, misfit }
}

/** Variances of the coordinates if all runs had one resistance; null where they have, or it cannot be told. */
export function varianceOfReadings(model: JointModel, sums: JointSums): number[] | null {
  const n = model.size
  if (!(model.offsetVariance > 0)) return null
  const information = new Float64Array(triangleSize(n))
  for (const run of sums.runs) {
    for (let t = 0; t < information.length; t++) information[t]! += run.information[t]!
  }
  const factor = cholesky(information, n)
  return factor === null ? null : invertCholesky(factor, n).map((row, j) => row[j]!)
}

interface Batch {
  readonly span: string
  readonly run: string
  readonly speed: string
  readonly current: string
  readonly score: Float64Array
  /** Covariance of the score under white residuals, full. */
  readonly information: Float64Array
}

/** Scores of the cells with the groups' offsets projected out. */
function batchesOfCells(model: JointModel, sums: JointSums): Batch[] {
  const n = model.size
  const column = model.resistanceColumn
  const speeds = model.observers.map(({ run }) => cellMeans(run, run.speed))
  const currents = model.observers.map(({ run }) => cellMeans(run, run.current))
  const fastest = Math.max(...speeds.flatMap(means => [...means]))
  const strongest = Math.max(...currents.flatMap(means => [...means]))
  const bin = (value: number, largest: number) =>
    `${Math.min(BINS - 1, Math.floor((BINS * value) / (largest || 1)))}`
  return model.observers.flatMap((observer, r) => {
    const variance = model.offsetVariance
    const own = sums.groups[model.members[r]!.group]!.information
    const direction = new Float64Array(n)
    if (column >= 0 && variance > 0) {
      const pivot = own[triangleAt(column, column)]! + 1 / variance
      for (let j = 0; j < n; j++) direction[j] = own[triangleAt(j, column)]! / pivot
    }
    return Array.from(observer.run.spanOfCell, (span, c): Batch => {
      const cell = observer.cells[c]!
      const slope = column >= 0 ? cell.gradient[column]! : 0
      const score = cell.gradient.map((value, j) => value - direction[j]! * slope)
      const information = new Float64Array(n * n)
      for (let j = 0; j < n; j++) {
        for (let l = 0; l < n; l++) {
          let value = cell.information[triangleAt(j, l)]!
          if (column >= 0) {
            const a = cell.information[triangleAt(j, column)]!
            const b = cell.information[triangleAt(l, column)]!
            const d = cell.information[triangleAt(column, column)]!
            value += direction[j]! * direction[l]! * d - direction[j]! * b - a * direction[l]!
          }
          information[j * n + l] = value
        }
      }
      return {
        span: `${r}/${span}`,
        run: `${r}`,
        speed: bin(speeds[r]![c]!, fastest),
        current: bin(currents[r]![c]!, strongest),
        score,
        information,
      }
    })
  })
}

/** Mean magnitude of a channel over each cell of a run; 0 where it has no reading. */
function cellMeans(run: PreparedRun, values: Float64Array): Float64Array {
  const sums = new Float64Array(run.spanOfCell.length)
  const weights = new Float64Array(run.spanOfCell.length)
  for (let k = 0; k < run.stepCount; k++) {
    if (Number.isNaN(values[k]!)) continue
    const { durationSec } = run.classes[run.classOf[k]!]!
    sums[run.cellOf[k]!]! += durationSec * Math.abs(values[k]!)
    weights[run.cellOf[k]!]! += durationSec
  }
  return sums.map((sum, c) => (weights[c]! > 0 ? sum / weights[c]! : 0))
}

function joined(batches: readonly Batch[], keyOf: (batch: Batch) => string): Batch[] {
  const groups = new Map<string, Batch>()
  for (const batch of batches) {
    const key = keyOf(batch)
    const group = groups.get(key)
    if (group === undefined) {
      groups.set(key, {
        ...batch,
        score: batch.score.slice(),
        information: batch.information.slice(),
      })
    } else {
      addTo(group.score, batch.score)
      addTo(group.information, batch.information)
    }
  }
  return [...groups.values()]
}

function addTo(sum: Float64Array, part: Float64Array): void {
  for (let j = 0; j < sum.length; j++) sum[j]! += part[j]!
}

function findingOf(batches: readonly Batch[], white: number[][], n: number): LevelFinding {
  const sum = new Float64Array(n)
  const expected = new Float64Array(n)
  const squares = new Float64Array(n)
  let chiSquare = 0
  let degreesOfFreedom = 0
  const influence = new Float64Array(n * n)
  for (const { score, information } of batches) {
    // H N: rows of the influence of the batch's score on each coordinate's variance.
    for (let j = 0; j < n; j++) {
      for (let l = 0; l < n; l++) {
        let value = 0
        for (let m = 0; m < n; m++) value += white[j]![m]! * information[m * n + l]!
        influence[j * n + l] = value
      }
    }
    for (let j = 0; j < n; j++) {
      let z = 0
      let before = 0
      for (let l = 0; l < n; l++) {
        z += white[j]![l]! * score[l]!
        before += influence[j * n + l]! * white[l]![j]!
      }
      // The fit has taken its share out of the batch: H (N − N H N) H.
      let share = 0
      for (let l = 0; l < n; l++) {
        let left = 0
        for (let m = 0; m < n; m++) left += influence[l * n + m]! * white[m]![j]!
        share += influence[j * n + l]! * left
      }
      const e = Math.max(0, before - share)
      sum[j]! += z * z
      expected[j]! += e
      squares[j]! += e * e
    }
    const [statistic, rank] = scoreStatistic(score, information, influence, n)
    chiSquare += statistic
    degreesOfFreedom += rank
  }
  const variance = sum.map((value, j) =>
    expected[j]! > 0 ? (value * white[j]![j]!) / expected[j]! : 0,
  )
  const freedom = expected.map((value, j) => (squares[j]! > 0 ? value ** 2 / squares[j]! : 0))
  // The scores of all batches add up to nil at the optimum: one batch's worth is no evidence.
  const share = (batches.length - 1) / Math.max(1, batches.length)
  chiSquare *= share
  degreesOfFreedom *= share
  const p = degreesOfFreedom > 0 ? chiSquareP(chiSquare, degreesOfFreedom) : 1
  return { batches: batches.length, chiSquare, degreesOfFreedom, p, variance, freedom }
}

/**
 * uᵀ (N − N H N)⁻¹ u of one batch in the directions that it informs about, and how many there are.
 * Directions are taken one coordinate at a time (a pivoted Cholesky factor), most informed first.
 */
function scoreStatistic(
  score: Float64Array,
  information: Float64Array,
  influence: Float64Array,
  n: number,
): [number, number] {
  const matrix = new Float64Array(n * n)
  for (let j = 0; j < n; j++) {
    for (let l = 0; l < n; l++) {
      let value = information[j * n + l]!
      for (let m = 0; m < n; m++) value -= information[j * n + m]! * influence[m * n + l]!
      matrix[j * n + l] = value
    }
  }
  const scale = Array.from({ length: n }, (_, j) => Math.sqrt(Math.max(0, information[j * n + j]!)))
  const chosen: number[] = []
  const open = new Set(scale.flatMap((s, j) => (s > 0 ? [j] : [])))
  const rest = matrix.slice()
  const u = score.slice()
  let statistic = 0
  while (open.size > 0) {
    let best = -1
    let most = 1e-3
    for (const j of open) {
      const left = rest[j * n + j]! / scale[j]! ** 2
      if (left > most) {
        most = left
        best = j
      }
    }
    if (best < 0) break
    open.delete(best)
    chosen.push(best)
    const pivot = rest[best * n + best]!
    statistic += u[best]! ** 2 / pivot
    for (const j of open) {
      const f = rest[j * n + best]! / pivot
      u[j]! -= f * u[best]!
      for (const l of open) rest[j * n + l]! -= f * rest[best * n + l]!
    }
  }
  return [statistic, chosen.length]
}
