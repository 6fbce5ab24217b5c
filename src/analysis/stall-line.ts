import { failure, type Result, success } from '../base/result.ts'
import {
  type ErrorsInVariablesFit,
  errorsInVariables,
  type NoisyColumn,
} from '../statistics/errors-in-variables.ts'
import { combineEstimates, type Estimate } from '../statistics/weighted-mean.ts'
import { brushVolt } from './brush-model.ts'
import { stallWarmth } from './stall-heating.ts'
import type { StallPoint } from './stall-points.ts'

/** Resistance and brush drop of one locked-rotor run, at the temperature at which the run began. */
export interface StallLine {
  readonly resistance: Estimate
  /** Null where one level alone cannot tell it from the resistance. */
  readonly brushDrop: Estimate | null
  readonly covariance: number
  /** Current over which the brush drop builds up, V_b tanh(i/I_b); 0 for a constant drop. */
  readonly kneeAmp: number
  /** R at each point over R cold. */
  readonly warmth: readonly number[]
  /** Voltage beyond the fit at each point. */
  readonly residualVolt: Float64Array
  readonly squareSum: number
}

/** Largest over smallest current from which a line has a slope of its own. */
export const LEVER = 1.25

/**
 * v = R i + V_b sgn(i) (+ an offset, where both polarities were driven) through the levels, with errors in
 * both readings, and R followed back to zero heating (`stallWarmth`).
 */
export function fitStallLine(
  points: readonly StallPoint[],
  knownBrushDrop: Estimate | undefined,
): Result<StallLine, string> {
  if (points.length === 0) return failure('no steady level with current and a still shaft')
  const amps = points.map(point => Math.abs(point.current))
  if (Math.max(...amps) < LEVER * Math.min(...amps))
    return success(oneLevel(points, knownBrushDrop))
  const lines = stallWarmth(points).flatMap(warmth => fitWithKnee(points, warmth, 0) ?? [])
  const best = lines.sort((a, b) => a.squareSum - b.squareSum)[0]
  return best ? success(best) : failure('the levels do not determine a straight line')
}

/** The same with a brush drop that builds up over `kneeAmp`; 0 for the constant drop. */
export function fitWithKnee(
  points: readonly StallPoint[],
  warmth: readonly number[],
  kneeAmp: number,
): StallLine | null {
  const fit = regress(points, warmth, kneeAmp, null)
  if (!fit) return null
  // The knee was found from the same points: its column takes its share of the uncertainty.
  const wide = kneeAmp > 0 ? regress(points, warmth, kneeAmp, fit.coefficients[1]!) : fit
  return {
    resistance: estimate(fit, wide ?? fit, 0),
    brushDrop: estimate(fit, wide ?? fit, 1),
    covariance: (wide ?? fit).covariance[0]![1]!,
    kneeAmp,
    warmth,
    residualVolt: fit.residuals,
    squareSum: fit.residuals.reduce((sum, r) => sum + r * r, 0),
  }
}

function regress(
  points: readonly StallPoint[],
  warmth: readonly number[],
  kneeAmp: number,
  slopeOfDrop: number | null,
): ErrorsInVariablesFit | null {
  const amps = points.map(point => point.current)
  const ofKnee = amps.map(
    amp => ((slopeOfDrop ?? 0) * amp) / Math.cosh(amp / kneeAmp) ** 2 / kneeAmp ** 2,
  )
  const columns = stallColumns(points, warmth, kneeAmp)
  const fit = errorsInVariables(
    slopeOfDrop === null ? columns : [...columns, { values: ofKnee, sigmas: null }],
    points.map(point => point.voltage),
    points.map(point => point.voltageSigma),
    { excess: true },
  )
  return fit.ok ? fit.value : null
}

/** The resistance alone, beside a brush drop that is given exactly (or none). */
export function fitBesideDrop(points: readonly StallPoint[], dropVolt: number): StallLine | null {
  const fits = stallWarmth(points).flatMap((warmth): StallLine[] => {
    const fit = errorsInVariables(
      stallColumns(points, warmth, 0).toSpliced(1, 1),
      points.map(point => point.voltage - dropVolt * Math.sign(point.current)),
      points.map(point => point.voltageSigma),
      { excess: true },
    )
    if (!fit.ok) return []
    const { residuals, degreesOfFreedom } = fit.value
    return [
      {
        resistance: estimate(fit.value, fit.value, 0),
        brushDrop: { value: dropVolt, standardUncertainty: 0, degreesOfFreedom },
        covariance: 0,
        kneeAmp: 0,
        warmth,
        residualVolt: residuals,
        squareSum: residuals.reduce((sum, r) => sum + r * r, 0),
      },
    ]
  })
  return fits.sort((a, b) => a.squareSum - b.squareSum)[0] ?? null
}

/** Regressors of the voltage: the current, the course of the brush drop, and an offset where it shows. */
export function stallColumns(
  points: readonly StallPoint[],
  warmth: readonly number[],
  kneeAmp: number,
): NoisyColumn[] {
  const amps = points.map(point => point.current)
  const forward = amps.filter(amp => amp > 0).length
  const columns: NoisyColumn[] = [
    {
      values: amps.map((amp, i) => amp * warmth[i]!),
      sigmas: points.map((point, i) => point.currentSigma * warmth[i]!),
    },
    { values: amps.map(amp => brushVolt({ dropVolt: 1, kneeAmp }, amp)), sigmas: null },
  ]
  if (Math.min(forward, points.length - forward) >= 2) {
    columns.push({ values: amps.map(() => 1), sigmas: null })
  }
  return columns
}

function estimate(at: ErrorsInVariablesFit, wide: ErrorsInVariablesFit, j: number): Estimate {
  return {
    value: at.coefficients[j]!,
    standardUncertainty: Math.sqrt(wide.covariance[j]![j]!),
    degreesOfFreedom: wide.degreesOfFreedom,
  }
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
  const residualVolt = Float64Array.from(
    each,
    (e, i) => (e.value - mean.value) * points[i]!.current,
  )
  return {
    resistance: {
      value: mean.value,
      standardUncertainty: Math.hypot(
        mean.standardUncertainty,
        (known?.standardUncertainty ?? 0) / amp,
      ),
      degreesOfFreedom: mean.degreesOfFreedom,
    },
    brushDrop: null,
    covariance: 0,
    kneeAmp: 0,
    warmth: points.map(() => 1),
    residualVolt,
    squareSum: residualVolt.reduce((sum, r) => sum + r * r, 0),
  }
}
