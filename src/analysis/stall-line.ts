import { failure, type Result, success } from '../base/result.ts'
import { errorsInVariables, type ErrorsInVariablesFit } from '../statistics/errors-in-variables.ts'
import { combineEstimates, type Estimate } from '../statistics/weighted-mean.ts'
import type { StallPoint } from './stall-points.ts'

/** Resistance and brush drop of one locked-rotor run, at the temperature at which the run began. */
export interface StallLine {
  readonly resistance: Estimate
  /** Null where one level alone cannot tell it from the resistance. */
  readonly brushDrop: Estimate | null
  readonly covariance: number
  /** Rise of the resistance per joule put in, relative; 0 where no heating shows. */
  readonly heatingPerJoule: number
  /** Voltage beyond the line at each point. */
  readonly residualVolt: Float64Array
  /** Scatter of the points about the line beyond their own noise. */
  readonly excessVolt: number
  readonly degreesOfFreedom: number
}

/** Largest over smallest current from which a line has a slope of its own. */
const LEVER = 1.25
/** Heating is believed when it stands out of its uncertainty by this factor … */
const CERTAIN = 4
/** … and moves the resistance by more than this share over the run. */
const WORTH = 5e-4
/** Cooling between pulses is not known: heat is kept over the whole run, or lost with one of these times. */
const COOLING_SEC = [Number.POSITIVE_INFINITY, 100, 30, 10, 3, 1]

/**
 * v = R i + V_b sgn(i) (+ an offset, where both polarities were driven) through the levels, with errors in
 * both readings, and R followed back to zero heating: within each level the drift of v/i against the energy
 * put in gives the rise per joule; the points are then taken at the resistance they would have had cold.
 */
export function fitStallLine(
  points: readonly StallPoint[],
  knownBrushDrop: Estimate | undefined,
): Result<StallLine, string> {
  if (points.length === 0) return failure('no steady level with current and a still shaft')
  const amps = points.map(point => Math.abs(point.current))
  if (Math.max(...amps) < LEVER * Math.min(...amps)) return success(oneLevel(points, knownBrushDrop))
  const heating = heatingPerJoule(points)
  const courses = heating === 0 ? [points.map(() => 1)] : COOLING_SEC.map(s => warmth(points, heating, s))
  const fits = courses.flatMap(course => {
    const fit = lineAt(points, course)
    return fit ? [fit] : []
  })
  const best = fits.sort((a, b) => a.squares - b.squares)[0]
  if (!best) return failure('the levels do not determine a straight line')
  const { fit } = best
  const { degreesOfFreedom } = fit
  return success({
    resistance: estimate(fit, 0),
    brushDrop: estimate(fit, 1),
    covariance: fit.covariance[0]![1]!,
    heatingPerJoule: heating,
    residualVolt: fit.residuals,
    excessVolt: fit.excess,
    degreesOfFreedom,
  })
}

function estimate(fit: ErrorsInVariablesFit, j: number): Estimate {
  return {
    value: fit.coefficients[j]!,
    standardUncertainty: Math.sqrt(fit.covariance[j]![j]!),
    degreesOfFreedom: fit.degreesOfFreedom,
  }
}

function lineAt(points: readonly StallPoint[], warm: readonly number[]) {
  const signs = points.map(point => Math.sign(point.current))
  const forward = signs.filter(sign => sign > 0).length
  const offset = Math.min(forward, points.length - forward) >= 2
  const exact = (values: number[]) => ({ values, sigmas: null })
  const columns = [
    {
      values: points.map((point, i) => point.current * warm[i]!),
      sigmas: points.map((point, i) => point.currentSigma * warm[i]!),
    },
    exact(signs),
    ...(offset ? [exact(points.map(() => 1))] : []),
  ]
  const fit = errorsInVariables(
    columns,
    points.map(point => point.voltage),
    points.map(point => point.voltageSigma),
    { excess: true },
  )
  if (!fit.ok) return null
  return { fit: fit.value, squares: fit.value.residuals.reduce((sum, r) => sum + r * r, 0) }
}

/** One level: R = (|v| − V_b)/|i|, each polarity weighing alike; without a known drop R holds it too. */
function oneLevel(points: readonly StallPoint[], known: Estimate | undefined): StallLine {
  const drop = known?.value ?? 0
  const each = points.map((point): Estimate => {
    const ohm = (Math.abs(point.voltage) - drop) / Math.abs(point.current)
    const sigma = Math.hypot(point.voltageSigma, ohm * point.currentSigma) / Math.abs(point.current)
    return { value: ohm, standardUncertainty: sigma, degreesOfFreedom: Number.POSITIVE_INFINITY }
  })
  const mean = combineEstimates(each)
  const amp = points.reduce((sum, point) => sum + Math.abs(point.current), 0) / points.length
  const fromDrop = (known?.standardUncertainty ?? 0) / amp
  return {
    resistance: {
      value: mean.value,
      standardUncertainty: Math.hypot(mean.standardUncertainty, fromDrop),
      degreesOfFreedom: mean.degreesOfFreedom,
    },
    brushDrop: null,
    covariance: 0,
    heatingPerJoule: 0,
    residualVolt: Float64Array.from(each, (e, i) => (e.value - mean.value) * points[i]!.current),
    excessVolt: mean.between * amp,
    degreesOfFreedom: mean.degreesOfFreedom,
  }
}

/** Pooled over the levels: (v′/v − i′/i)/P, the relative rise of v/i per joule while a level lasts. */
function heatingPerJoule(points: readonly StallPoint[]): number {
  const each = points.flatMap(({ level, voltage, current }): Estimate[] => {
    if (!(level.durationSec > 0)) return []
    const power = voltage * current
    const drift = level.voltage!.slopePerSec / voltage - level.current!.slopePerSec / current
    // A straight line over a stretch knows its slope √12 times worse than its mean, per length.
    const relative = Math.hypot(
      level.voltage!.standardUncertainty / voltage,
      level.current!.standardUncertainty / current,
    )
    const sigma = (relative * Math.sqrt(12)) / level.durationSec
    return [
      {
        value: drift / power,
        standardUncertainty: sigma / power,
        degreesOfFreedom: Number.POSITIVE_INFINITY,
      },
    ]
  })
  if (each.length === 0) return 0
  const { value, standardUncertainty } = combineEstimates(each)
  const largest = Math.max(...points.map(point => point.energyJoule))
  return value > CERTAIN * standardUncertainty && value * largest > WORTH ? value : 0
}

/** R/R₀ at each point, the heat of earlier pulses dying away with `coolingSec`. */
function warmth(points: readonly StallPoint[], perJoule: number, coolingSec: number): number[] {
  let kept = 0
  return points.map((point, i) => {
    const before = points[i - 1]
    const put = point.energyJoule - (before?.energyJoule ?? 0)
    const wait = before ? point.level.middleSec! - before.level.middleSec! : 0
    kept = kept * Math.exp(-wait / coolingSec) + put
    return 1 + perJoule * kept
  })
}
