import { failure, type Result, success } from '../base/result.ts'
import { descend, expectedDecrease, type Termination } from '../numerics/levenberg-marquardt.ts'
import {
  cholesky,
  invertCholesky,
  solveCholesky,
  triangleAt,
  triangleSize,
} from '../numerics/symmetric.ts'
import { autocorrelationTime } from '../statistics/autocorrelation-time.ts'
import { median } from '../statistics/robust.ts'
import type { HeatBlock } from './heat-blocks.ts'
import { type HeatCourse, type HeatModel, playHeat } from './heat-course.ts'
import { guessHeat } from './guess-heat.ts'
import type { HeatSetting } from './heat-setting.ts'

/** The order of the fitted numbers; all but the last are logarithms. */
const HEAT_NUMBERS = [
  'windingToHousingKPerW',
  'housingToAmbientKPerW',
  'windingJPerK',
  'housingJPerK',
  'startOhm',
  'brushKneeAmp',
  'brushDropVolt',
] as const

const LOGARITHMS = 6
const START_OHM = 4
const KNEE = 5
const DROP = 6
/** Thermal numbers come first. */
const THERMAL = 4

export interface HeatFit {
  readonly model: HeatModel
  /** Of `HEAT_NUMBERS`: logarithms, then the brush drop. Scaled for lack of fit and correlation. */
  readonly coordinates: readonly number[]
  readonly covariance: readonly (readonly number[])[]
  readonly degreesOfFreedom: number
  readonly reducedChiSquare: number
  readonly course: HeatCourse
  readonly residualsOhm: Float64Array
  readonly termination: Termination
}

/**
 * How far from the first guess a thermal number may well be, in logarithms (a factor of 4.5): holds what the
 * run does not tell, and weighs nothing beside what it does.
 */
const GUESS_SPREAD = 1.5
/** So many of the guesses are followed down. */
const STARTS = 3
const STEP = 1e-4
const OPTIONS = {
  maxPasses: 80,
  // Of a chi-square: a step that would gain less moves nothing by more than a tenth of its standard deviation.
  expectedGain: 1e-2,
  expectedShare: 1e-9,
  firstDamping: 1e-2,
  slack: 0,
}
const LONGEST_STEP = 1

/**
 * Least squares of the resistance readings of a heating run over the two-mass model. Heat capacities, thermal
 * resistances and the resistance at the start are fitted as logarithms; drop and knee of the brushes with what
 * is believed of them. Covariance from the Jacobian, raised by the reduced chi-square where that is above 1
 * and by the correlation time of the residuals; to which comes what the share of brushes and leads, moved by
 * its standard uncertainty, does to the result.
 */
export function fitHeat(
  blocks: readonly HeatBlock[],
  setting: HeatSetting,
): Result<HeatFit, string> {
  const guesses = guessHeat(blocks, setting)
  if (!guesses.ok) return guesses
  const starts = likeliest(blocks, setting, guesses.value)
  if (starts.length === 0) return failure('no two-mass model follows the readings of this run')
  const rows = rowsOf(blocks, setting, starts[0]!)
  const ends = starts
    .map(guess => descend(rows, guess, OPTIONS))
    .filter(({ state }) => Number.isFinite(state.cost))
    .sort((a, b) => a.state.cost - b.state.cost)
  const best = ends[0]
  if (!best) return failure('no two-mass model follows the readings of this run')
  const { steadyShare } = setting
  const moved = {
    ...setting,
    steadyShare: { ...steadyShare, value: steadyShare.value + steadyShare.standardUncertainty },
  }
  const other = descend(rowsOf(blocks, moved, starts[0]!), best.point, OPTIONS)
  const shift = other.point.map((value, j) => value - best.point[j]!)
  const fit = finish(blocks, setting, best.state, best.point, best.termination, shift)
  return fit ? success(fit) : failure('the readings of this run leave the two-mass model open')
}

/**
 * The few that the readings speak for most, each with the resistance at the start moved to suit it: a winding
 * and a housing that change roles make a valley of their own, and descent does not leave one.
 */
function likeliest(
  blocks: readonly HeatBlock[],
  setting: HeatSetting,
  guesses: readonly number[][],
): number[][] {
  const readings = blocks.flatMap(block => block.reading ?? [])
  const play = (x: readonly number[]) => playHeat(blocks, modelIn(setting, x), setting).ohm
  return guesses
    .map(guess => {
      const first = play(guess)
      const ratio = median(readings.map((r, n) => r.ohm / first[n]!))
      const point = guess.with(START_OHM, guess[START_OHM]! + Math.log(ratio))
      const ohm = play(point)
      const cost = readings.reduce((sum, r, n) => sum + ((r.ohm - ohm[n]!) / r.sigmaOhm) ** 2, 0)
      return { point, cost }
    })
    .filter(({ cost }) => Number.isFinite(cost))
    .sort((a, b) => a.cost - b.cost)
    .slice(0, STARTS)
    .map(({ point }) => point)
}

export function modelOf(
  x: readonly number[],
  given: Pick<HeatModel, 'steadyShare' | 'backEmfVsPerRad'>,
): HeatModel {
  return {
    windingToHousingKPerW: Math.exp(x[0]!),
    housingToAmbientKPerW: Math.exp(x[1]!),
    windingJPerK: Math.exp(x[2]!),
    housingJPerK: Math.exp(x[3]!),
    startOhm: Math.exp(x[4]!),
    brushKneeAmp: Math.exp(x[KNEE]!),
    brushDropVolt: x[DROP]!,
    steadyShare: given.steadyShare,
    backEmfVsPerRad: given.backEmfVsPerRad,
  }
}

const modelIn = (setting: HeatSetting, x: readonly number[]) =>
  modelOf(x, { steadyShare: setting.steadyShare.value, backEmfVsPerRad: setting.backEmfVsPerRad })

interface Sums {
  readonly cost: number
  readonly information: Float64Array
  readonly gradient: Float64Array
  /** Of the readings alone, each in its own standard deviations. */
  readonly residuals: Float64Array
}

function rowsOf(blocks: readonly HeatBlock[], setting: HeatSetting, centre: readonly number[]) {
  const readings = blocks.flatMap(block => block.reading ?? [])
  const size = HEAT_NUMBERS.length
  const play = (x: readonly number[]) => playHeat(blocks, modelIn(setting, x), setting).ohm
  const beliefs = [
    ...centre.slice(0, THERMAL).map(value => ({ value, standardUncertainty: GUESS_SPREAD })),
    null,
    setting.brushKnee,
    setting.brushDrop,
  ]

  function evaluate(x: readonly number[]): Sums {
    const ohm = play(x)
    const residuals = Float64Array.from(readings, (r, n) => (r.ohm - ohm[n]!) / r.sigmaOhm)
    const slopes = x.map((value, j) => {
      const step = STEP * (j < LOGARITHMS ? 1 : Math.max(1e-3, beliefs[j]!.standardUncertainty))
      const up = play(x.with(j, value + step))
      const down = play(x.with(j, value - step))
      return up.map((high, n) => (high - down[n]!) / (2 * step) / readings[n]!.sigmaOhm)
    })
    const information = new Float64Array(triangleSize(size))
    const gradient = new Float64Array(size)
    let cost = residuals.reduce((sum, r) => sum + r * r, 0)
    for (let j = 0; j < size; j++) {
      for (let l = 0; l <= j; l++) {
        information[triangleAt(j, l)] = dot(slopes[j]!, slopes[l]!)
      }
      gradient[j] = -dot(slopes[j]!, residuals)
      const belief = beliefs[j]
      if (!belief) continue
      const weight = 1 / belief.standardUncertainty ** 2
      information[triangleAt(j, j)]! += weight
      gradient[j]! += weight * (x[j]! - belief.value)
      cost += weight * (x[j]! - belief.value) ** 2
    }
    return { cost: Number.isFinite(cost) ? cost : Number.NaN, information, gradient, residuals }
  }

  function dampedStep(_: readonly number[], sums: Sums, damping: number) {
    const matrix = sums.information.slice()
    for (let j = 0; j < size; j++) matrix[triangleAt(j, j)]! *= 1 + damping
    const factor = cholesky(matrix, size)
    if (factor === null) return null
    const step = sums.gradient.map(slope => -slope)
    solveCholesky(factor, size, step)
    const longest = Math.max(...step.slice(0, LOGARITHMS).map(Math.abs))
    const share = Math.min(1, LONGEST_STEP / longest)
    const short = step.map(value => share * value)
    return { step: short, gain: expectedDecrease(sums.gradient, short) }
  }

  return {
    evaluate,
    dampedStep,
    move: (x: readonly number[], _: Sums, step: Float64Array) => x.map((v, j) => v + step[j]!),
  }
}

function finish(
  blocks: readonly HeatBlock[],
  setting: HeatSetting,
  sums: Sums,
  x: readonly number[],
  termination: Termination,
  shift: readonly number[],
): HeatFit | null {
  const size = HEAT_NUMBERS.length
  const factor = cholesky(sums.information, size)
  if (factor === null) return null
  const { residuals } = sums
  const free = Math.max(1, residuals.length - size)
  const chiSquare = residuals.reduce((sum, r) => sum + r * r, 0) / free
  const correlation = autocorrelationTime(residuals)
  const spread = Math.max(1, chiSquare) * correlation
  // What is believed from outside is not made less certain by scatter in the readings.
  const scaled = sums.information.map(value => value / spread)
  for (const [j, belief] of [
    [KNEE, setting.brushKnee],
    [DROP, setting.brushDrop],
  ] as const) {
    scaled[triangleAt(j, j)]! += (1 - 1 / spread) / belief.standardUncertainty ** 2
  }
  const wide = cholesky(scaled, size)
  if (wide === null) return null
  const model = modelIn(setting, x)
  const readings = blocks.flatMap(block => block.reading ?? [])
  return {
    model,
    coordinates: [...x],
    covariance: invertCholesky(wide, size).map((row, j) =>
      row.map((value, l) => value + shift[j]! * shift[l]!),
    ),
    degreesOfFreedom: Math.max(1, residuals.length / correlation - size),
    reducedChiSquare: chiSquare,
    course: playHeat(blocks, model, setting),
    residualsOhm: residuals.map((r, n) => r * readings[n]!.sigmaOhm),
    termination,
  }
}

function dot(a: ArrayLike<number>, b: ArrayLike<number>): number {
  let sum = 0
  for (let n = 0; n < a.length; n++) sum += a[n]! * b[n]!
  return sum
}
