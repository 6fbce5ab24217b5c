import { errorsInVariables, type NoisyColumn } from '../statistics/errors-in-variables.ts'
import type { RunSignals } from '../signals/run-signals.ts'
import { findPhases } from '../signals/phases.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'
import { type BrushModel, brushVolt, needsDrop } from './brush-model.ts'

/** What a whole recording says of the voltage equation, with nothing known before. */
export interface ElectricalBalance {
  readonly resistance: Estimate
  readonly inductance: Estimate | null
  readonly backEmfConstant: Estimate | null
  readonly brushDrop: Estimate | null
  /** Of R, V_b and k_e, nil where a term was left out. */
  readonly covariance: readonly (readonly number[])[]
}

/** Blocks grow after each edge, so that the transient has its share of them. */
const GROWTH = 1.15

/**
 * Mean voltage equation over blocks: v̄ = R ī + L Δi/Δt + k_e ω̄ + V_b s̄, which holds whatever happens within
 * a block. For runs without a locked-rotor test: a run-up has the large current at low speed that tells R from
 * k_e. Null where the columns cannot be told apart.
 */
export function electricalBalance(
  signals: RunSignals,
  brush: BrushModel | null,
): ElectricalBalance | null {
  const { timeSec, voltage, current, speed } = signals
  if (!timeSec || !voltage || !current) return null
  const blocks = findPhases(signals).phases.flatMap(phase =>
    phase.kind === 'drive' || phase.kind === 'brake' ? growingBlocks(phase.start, phase.end) : [],
  )
  if (blocks.length < 6) return null
  const over = (of: (i: number) => number) => blocks.map(([from, to]) => meanOver(of, from, to))
  const size = (noise: number) => blocks.map(([from, to]) => noise / Math.sqrt(to - from))
  const rise = blocks.map(
    ([from, to]) =>
      (current.values[to - 1]! - current.values[from]!) / (timeSec[to - 1]! - timeSec[from]!),
  )
  const riseSigma = blocks.map(
    ([from, to]) => (Math.SQRT2 * current.noise) / (timeSec[to - 1]! - timeSec[from]!),
  )
  const turns = speed !== null && speed.reach > 6 * speed.noise
  const unit = { dropVolt: 1, kneeAmp: brush?.kneeAmp ?? 0 }
  const columns: NoisyColumn[] = [
    { values: over(i => current.values[i]!), sigmas: size(current.noise) },
    { values: over(i => brushVolt(unit, current.values[i]!)), sigmas: null },
    ...(turns ? [{ values: over(i => speed.values[i]!), sigmas: size(speed.noise) }] : []),
    { values: rise, sigmas: riseSigma },
  ]
  const y = over(i => voltage.values[i]!)
  if (y.some(Number.isNaN) || columns.some(c => Array.from(c.values).some(Number.isNaN)))
    return null
  const full = errorsInVariables(columns, y, size(voltage.noise), { excess: true })
  if (!full.ok) return null
  const drop = {
    value: full.value.coefficients[1]!,
    standardUncertainty: Math.sqrt(full.value.covariance[1]![1]!),
    degreesOfFreedom: full.value.degreesOfFreedom,
  }
  const hasDrop = needsDrop(drop, voltage.reach)
  const fit = hasDrop
    ? full
    : errorsInVariables(columns.toSpliced(1, 1), y, size(voltage.noise), { excess: true })
  if (!fit.ok || !(fit.value.coefficients[0]! > 0)) return null
  const at = { r: 0, b: hasDrop ? 1 : -1, k: turns ? 1 + Number(hasDrop) : -1 }
  const last = fit.value.coefficients.length - 1
  const estimate = (j: number): Estimate | null =>
    j < 0
      ? null
      : {
          value: fit.value.coefficients[j]!,
          standardUncertainty: Math.sqrt(fit.value.covariance[j]![j]!),
          degreesOfFreedom: fit.value.degreesOfFreedom,
        }
  const inductance = estimate(last)!
  const places = [at.r, at.b, at.k]
  return {
    resistance: estimate(at.r)!,
    brushDrop: estimate(at.b),
    backEmfConstant: estimate(at.k),
    inductance: inductance.value > 3 * inductance.standardUncertainty ? inductance : null,
    covariance: places.map(a => places.map(b => fit.value.covariance[a]?.[b] ?? 0)),
  }
}

function growingBlocks(start: number, end: number): [number, number][] {
  const blocks: [number, number][] = []
  let from = start + 1
  let length = 4
  while (from + length <= end) {
    blocks.push([from, from + Math.floor(length)])
    from += Math.floor(length)
    length *= GROWTH
  }
  return blocks
}

/** Trapezoid mean, which belongs to the same span as the difference of the ends. */
function meanOver(of: (i: number) => number, from: number, to: number): number {
  let sum = (of(from) + of(to - 1)) / 2
  for (let i = from + 1; i < to - 1; i++) sum += of(i)
  return sum / (to - 1 - from)
}
