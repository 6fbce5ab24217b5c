import type { RunSignals } from '../signals/run-signals.ts'
import { errorsInVariables } from '../statistics/errors-in-variables.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'

/** Back-EMF constant from open terminals. */
export interface CoastVoltage {
  readonly constant: Estimate
  /** Voltage at standstill; 0 where none shows. */
  readonly offsetVolt: number
}

const BLOCKS = 120
/** An offset stays when it is this many standard uncertainties away from nil. */
const EARNED = 4
/** Terminals that read less than this share of what the fastest sample suggests are not read at all. */
const DEAD = 0.05

export interface SampleRange {
  readonly start: number
  readonly end: number
}

/**
 * k_e as the slope of the terminal voltage over the speed while no current flows: free of resistance and brush
 * drop. Means over blocks, errors in both. Null without voltage or speed, or where the voltage channel does not
 * see the terminals while the bridge is open (it then reads nil at any speed).
 */
export function coastVoltage(
  signals: RunSignals,
  ranges: readonly SampleRange[],
): CoastVoltage | null {
  const { voltage, speed } = signals
  if (!voltage || !speed || ranges.length === 0) return null
  const volt: number[] = []
  const omega: number[] = []
  const counts: number[] = []
  const total = ranges.reduce((sum, r) => sum + r.end - r.start, 0)
  for (const range of ranges) {
    const share = Math.max(1, Math.floor(((range.end - range.start) * BLOCKS) / total))
    const size = Math.max(1, Math.floor((range.end - range.start) / share))
    for (let from = range.start; from + size <= range.end; from += size) {
      let v = 0
      let w = 0
      let n = 0
      for (let i = from; i < from + size; i++) {
        const [a, b] = [voltage.values[i]!, speed.values[i]!]
        if (Number.isNaN(a) || Number.isNaN(b)) continue
        v += a
        w += b
        n++
      }
      if (n === 0) continue
      volt.push(v / n)
      omega.push(w / n)
      counts.push(n)
    }
  }
  if (volt.length < 3) return null
  const read = volt.filter(v => Math.abs(v) > Math.max(DEAD * voltage.reach, 4 * voltage.noise))
  if (read.length < volt.length / 4) return null
  const sigmaV = counts.map(n => voltage.noise / Math.sqrt(n))
  const slope = {
    values: omega,
    sigmas: counts.map(n => speed.noise / Math.sqrt(n)),
  }
  const ones = { values: omega.map(() => 1), sigmas: null }
  const wide = errorsInVariables([slope, ones], volt, sigmaV, { excess: true })
  const narrow = errorsInVariables([slope], volt, sigmaV, { excess: true })
  if (!narrow.ok) return null
  const certain =
    wide.ok &&
    Math.abs(wide.value.coefficients[1]!) > EARNED * Math.sqrt(wide.value.covariance[1]![1]!)
  const fit = certain ? wide.value : narrow.value
  return {
    constant: {
      value: fit.coefficients[0]!,
      standardUncertainty: Math.sqrt(fit.covariance[0]![0]!),
      degreesOfFreedom: fit.degreesOfFreedom,
    },
    offsetVolt: fit.coefficients[1] ?? 0,
  }
}
