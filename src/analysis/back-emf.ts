import { inverse, Matrix } from 'ml-matrix'
import type { SteadyLevel } from '../signals/steady-levels.ts'
import {
  errorsInVariables,
  type NoisyColumn,
  type Prior,
} from '../statistics/errors-in-variables.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'
import { type BrushModel, brushVolt } from './brush-model.ts'
import type { KnownParameters } from './result.ts'

/** v = k_e ω + R i + V_b(i) over steady turning levels. */
export interface BackEmfFit {
  readonly backEmfConstant: Estimate
  readonly resistance: Estimate
  readonly brushDrop: Estimate
  /** Of k_e, R and V_b. */
  readonly covariance: readonly (readonly number[])[]
  readonly residualVolt: Float64Array
  readonly excessVolt: number
}

/**
 * The back-EMF constant with what is known of R and V_b taken as prior values with their uncertainties, so that
 * a brush drop smaller at no-load current than in a stalled motor can show itself. Without a prior all three come
 * from the levels, if their currents differ enough. Null where they do not.
 */
export function fitBackEmf(
  levels: readonly SteadyLevel[],
  known: KnownParameters,
): BackEmfFit | null {
  const used = levels.filter(level => level.voltage && level.current && level.speed)
  if (used.length === 0) return null
  const brush: BrushModel = { dropVolt: 1, kneeAmp: known.brushKneeAmp ?? 0 }
  const forward = used.filter(level => level.speed!.value > 0).length
  const offset = { values: used.map(() => 1), sigmas: null }
  // What is known exactly is taken off, the rest is fitted, with what is known of it as a prior.
  const terms: Term[] = [
    { column: column(used, 'speed'), known: undefined },
    { column: column(used, 'current'), known: known.resistance },
    {
      column: { values: used.map(level => brushVolt(brush, level.current!.value)), sigmas: null },
      known: dropAt(used, known),
    },
    ...(Math.min(forward, used.length - forward) >= 2
      ? [{ column: offset, known: undefined }]
      : []),
  ]
  const fitted = terms.filter(term => !isExact(term.known))
  const voltage = used.map((level, i) =>
    terms.reduce(
      (sum, term) => sum - (isExact(term.known) ? term.known!.value * term.column.values[i]! : 0),
      level.voltage!.value,
    ),
  )
  const fit = errorsInVariables(
    fitted.map(term => term.column),
    voltage,
    used.map(level => level.voltage!.standardUncertainty),
    { excess: true, ...priorOf(fitted, known.resistanceBrushCovariance ?? 0) },
  )
  if (!fit.ok) return null
  const { coefficients, covariance, degreesOfFreedom, residuals, excess } = fit.value
  const places = terms.slice(0, 3).map(term => fitted.indexOf(term))
  const estimate = (j: number): Estimate => {
    const at = places[j]!
    if (at < 0) return terms[j]!.known!
    const standardUncertainty = Math.sqrt(covariance[at]![at]!)
    return { value: coefficients[at]!, standardUncertainty, degreesOfFreedom }
  }
  return {
    backEmfConstant: estimate(0),
    resistance: estimate(1),
    brushDrop: estimate(2),
    covariance: places.map(a => places.map(b => covariance[a]?.[b] ?? 0)),
    residualVolt: residuals,
    excessVolt: excess,
  }
}

/** By how much a drop may be smaller below the currents at which it was seen; common practice, no source. */
const UNSEEN = 0.3

/** The drop as known for these levels: wide where they draw less current than it was seen at. */
function dropAt(levels: readonly SteadyLevel[], known: KnownParameters): Estimate | undefined {
  const { brushDrop, brushSeenFromAmp } = known
  const lowest = Math.min(...levels.map(level => Math.abs(level.current!.value)))
  if (!brushDrop || brushSeenFromAmp === undefined || lowest > 0.7 * brushSeenFromAmp) {
    return brushDrop
  }
  const standardUncertainty = Math.hypot(brushDrop.standardUncertainty, UNSEEN * brushDrop.value)
  return { ...brushDrop, standardUncertainty }
}

interface Term {
  readonly column: NoisyColumn
  readonly known: Estimate | undefined
}

function isExact(known: Estimate | undefined): boolean {
  return known !== undefined && !(known.standardUncertainty > 1e-12 * Math.abs(known.value))
}

function column(levels: readonly SteadyLevel[], channel: 'speed' | 'current'): NoisyColumn {
  return {
    values: levels.map(level => level[channel]!.value),
    sigmas: levels.map(level => level[channel]!.standardUncertainty),
  }
}

/** Inverse covariance of what is known of the terms; the two that may be are resistance and drop. */
function priorOf(terms: readonly Term[], shared: number): { prior?: Prior } {
  const places = terms.flatMap((term, j) => (term.known ? j : []))
  if (places.length === 0) return {}
  const covariance = places.map(a =>
    places.map(b => (a === b ? terms[a]!.known!.standardUncertainty ** 2 * (1 + 1e-9) : shared)),
  )
  const inner = inverse(new Matrix(covariance)).to2DArray()
  const at = (j: number, k: number) => inner[places.indexOf(j)]?.[places.indexOf(k)] ?? 0
  return {
    prior: {
      mean: terms.map(term => term.known?.value ?? 0),
      information: terms.map((_, j) => terms.map((__, k) => at(j, k))),
    },
  }
}
