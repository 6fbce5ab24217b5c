import { linearLeastSquares } from '../numerics/linear/least-squares.ts'
import { nestedModelTest, runsTest } from '../statistics/lack-of-fit.ts'
import { fitWithKnee, type StallLine, stallColumns } from './stall-line.ts'
import type { StallPoint } from './stall-points.ts'

/** The straight line of a locked rotor judged by its residuals. */
export interface StallVerdict {
  /** What stands for the motor: the line, or the curve where that explains nearly all that the line leaves. */
  readonly chosen: StallLine
  readonly line: StallLine
  /** With a brush drop V_b tanh(i/I_b); null where the points do not show one. */
  readonly curve: StallLine | null
  readonly lackOfFit: boolean
  /** In words, for a reader. */
  readonly text: string
}

const SIGNIFICANT = 0.01
/** Share of the line's squared misfit that a curve may leave and still take the line's place. */
const EXPLAINED = 0.1
/** Residuals below this share of the largest voltage are no lack of fit, whatever their pattern. */
const NEGLIGIBLE = 1e-4
const FEWEST_LEVELS = 5
const KNEES = 40

/**
 * Does a brush drop that builds up with the current do better than a constant one? It takes the place of the
 * straight line only where it leaves less than a tenth of its squared misfit; else the line stands and its lack
 * of fit is said.
 */
export function judgeStallLine(line: StallLine, points: readonly StallPoint[]): StallVerdict {
  const standing = { chosen: line, line, curve: null, lackOfFit: false }
  if (points.length < FEWEST_LEVELS || !line.brushDrop) {
    return { ...standing, text: 'too few levels to judge the straight line' }
  }
  const largest = Math.max(...points.map(point => Math.abs(point.voltage)))
  if (Math.max(...line.residualVolt.map(Math.abs)) < NEGLIGIBLE * largest) {
    return { ...standing, text: 'none: the levels lie on a straight line' }
  }
  const curve = bestCurve(line, points)
  const p = curve && improvement(line, curve, points)
  if (curve && p !== null && p < SIGNIFICANT) {
    const explained = curve.squareSum < EXPLAINED * line.squareSum
    return {
      chosen: explained ? curve : line,
      line,
      curve,
      lackOfFit: true,
      text:
        `found: the levels bend away from the straight line; a brush drop that builds up over ` +
        `${brief(curve.kneeAmp)} A (R ${brief(curve.resistance.value)} ohm, V_b ` +
        `${brief(curve.brushDrop!.value)} V) leaves ${brief(100 * Math.sqrt(curve.squareSum / line.squareSum))} % ` +
        `of its residuals (p = ${p.toExponential(0)})${explained ? ' and takes its place' : ''}`,
    }
  }
  const bySize = points
    .map((point, i) => ({
      amp: Math.abs(point.current),
      r: line.residualVolt[i]! * Math.sign(point.current),
    }))
    .sort((a, b) => a.amp - b.amp)
  const runs = runsTest(bySize.map(entry => entry.r))
  if (runs && runs.p < SIGNIFICANT) {
    return {
      ...standing,
      lackOfFit: true,
      text: `found: residuals keep their sign over neighbouring levels (${runs.runs} runs in ${points.length})`,
    }
  }
  return { ...standing, curve, text: 'none found in the residuals of the straight line' }
}

/** For each knee the rest is linear: the best of a geometric grid, then refined by halving its step. */
function bestCurve(line: StallLine, points: readonly StallPoint[]): StallLine | null {
  const sizes = points.map(point => Math.abs(point.current))
  const low = Math.log(Math.min(...sizes) / 4)
  const high = Math.log(Math.max(...sizes) / 2)
  const squares = (logKnee: number) => squaresAt(points, line.warmth, Math.exp(logKnee))
  let width = (high - low) / (KNEES - 1)
  let best = low
  for (let k = 1; k < KNEES; k++)
    if (squares(low + k * width) < squares(best)) best = low + k * width
  while (width > 1e-5) {
    width /= 2
    for (const near of [best - width, best + width]) if (squares(near) < squares(best)) best = near
  }
  const curve = fitWithKnee(points, line.warmth, Math.exp(best))
  return curve && curve.resistance.value > 0 && curve.brushDrop!.value > 0 ? curve : null
}

function squaresAt(points: readonly StallPoint[], warmth: readonly number[], knee: number): number {
  const fit = linearLeastSquares(
    stallColumns(points, warmth, knee).map(column => column.values),
    points.map(point => point.voltage),
  )
  return fit.ok ? fit.value.weightedSquareSum : Number.POSITIVE_INFINITY
}

/** Probability that the knee, one parameter more, would do so much better by chance. */
function improvement(
  line: StallLine,
  curve: StallLine,
  points: readonly StallPoint[],
): number | null {
  const freedom = points.length - 2
  const test = nestedModelTest(
    { squareSum: line.squareSum, degreesOfFreedom: freedom },
    { squareSum: curve.squareSum, degreesOfFreedom: freedom - 1 },
  )
  return test?.p ?? null
}

const brief = (value: number) => String(Number(value.toPrecision(3)))
