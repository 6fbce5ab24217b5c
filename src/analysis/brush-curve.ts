import { linearLeastSquares } from '../numerics/linear/least-squares.ts'
import { nestedModelTest, runsTest } from '../statistics/lack-of-fit.ts'
import type { StallPoint } from './stall-points.ts'

/** Does a brush drop that builds up with the current, V_b tanh(i/I_b), do better than a constant one? */
export interface BrushCurve {
  readonly resistanceOhm: number
  readonly brushDropVolt: number
  readonly kneeAmp: number
  /** Residual sum of squares over that of the straight line. */
  readonly squaresRatio: number
  /** Probability of so large an improvement by chance. */
  readonly p: number
}

export interface StallLackOfFit {
  /** In words, for a reader. */
  readonly text: string
  readonly found: boolean
  readonly curve: BrushCurve | null
}

const SIGNIFICANT = 0.01
/** Residuals below this share of the largest voltage are no lack of fit, whatever their pattern. */
const NEGLIGIBLE = 1e-4
const KNEES = 60

/** Judges the straight line of a locked rotor by its residuals; needs at least five levels. */
export function stallLackOfFit(
  points: readonly StallPoint[],
  residualVolt: ArrayLike<number>,
): StallLackOfFit {
  if (points.length < 5) {
    return { text: 'too few levels to judge the straight line', found: false, curve: null }
  }
  const largest = Math.max(...points.map(point => Math.abs(point.voltage)))
  const residual = Math.max(...Array.from(residualVolt, Math.abs))
  if (residual < NEGLIGIBLE * largest) {
    return { text: 'none: the levels lie on a straight line', found: false, curve: null }
  }
  const curve = brushCurve(points)
  if (curve && curve.p < SIGNIFICANT) {
    const share = Math.round(100 * (1 - Math.sqrt(curve.squaresRatio)))
    return {
      text:
        `found: the line leaves a curve; a brush drop that builds up over ${round(curve.kneeAmp)} A ` +
        `(R ${round(curve.resistanceOhm)} ohm, V_b ${round(curve.brushDropVolt)} V) leaves residuals ` +
        `${share} % smaller, p = ${curve.p.toExponential(0)}`,
      found: true,
      curve,
    }
  }
  const folded = points
    .map((point, i) => ({ at: point.current, r: residualVolt[i]! * Math.sign(point.current) }))
    .sort((a, b) => Math.abs(a.at) - Math.abs(b.at))
  const runs = runsTest(folded.map(entry => entry.r))
  if (runs && runs.p < SIGNIFICANT) {
    return {
      text: `found: residuals keep their sign over neighbouring levels (${runs.runs} runs in ${points.length})`,
      found: true,
      curve,
    }
  }
  return { text: 'none found in the residuals of the straight line', found: false, curve }
}

/** For each knee the rest is linear; the best knee of a geometric grid over the currents tested. */
function brushCurve(points: readonly StallPoint[]): BrushCurve | null {
  const amps = points.map(point => point.current)
  const volts = points.map(point => point.voltage)
  const sizes = amps.map(Math.abs)
  const line = linearLeastSquares([amps, amps.map(Math.sign)], volts)
  if (!line.ok) return null
  const low = Math.min(...sizes) / 3
  const high = Math.max(...sizes) / 2
  let best: { knee: number; squares: number; ohm: number; drop: number } | null = null
  for (let k = 0; k < KNEES; k++) {
    const knee = low * (high / low) ** (k / (KNEES - 1))
    const fit = linearLeastSquares([amps, amps.map(amp => Math.tanh(amp / knee))], volts)
    if (!fit.ok) continue
    const [ohm, drop] = [fit.value.coefficients[0]!, fit.value.coefficients[1]!]
    const squares = fit.value.weightedSquareSum
    if (ohm > 0 && drop > 0 && (!best || squares < best.squares)) best = { knee, squares, ohm, drop }
  }
  if (!best) return null
  const freedom = points.length - 2
  const test = nestedModelTest(
    { squareSum: line.value.weightedSquareSum, degreesOfFreedom: freedom },
    { squareSum: best.squares, degreesOfFreedom: freedom - 1 },
  )
  if (!test) return null
  return {
    resistanceOhm: best.ohm,
    brushDropVolt: best.drop,
    kneeAmp: best.knee,
    squaresRatio: best.squares / line.value.weightedSquareSum,
    p: test.p,
  }
}

const round = (value: number) => String(Number(value.toPrecision(3)))
