import { isCoarse } from '../signals/coarse-time.ts'
import type { Phase } from '../signals/phases.ts'
import type { RunSignals } from '../signals/run-signals.ts'
import { plainMean, timeTo80 } from '../signals/steady-levels.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'
import { type BrushModel, brushVolt } from './brush-model.ts'
import { type CurveFit, fitCurve } from './curve-fit.ts'

/** One exponential rise of the current, and what its time constant says. */
export interface CurrentRise {
  readonly inductanceHenry: Estimate
  readonly start: number
  /** Fitted current at the samples from `start`. */
  readonly fittedAmp: Float64Array
}

/** A first-order rise falls to 20 % of its change after 1.61 time constants. */
const SPAN_OF_80 = Math.log(5)
/** The rise is fitted over so many time constants. */
const LENGTH = 10
/** Share of the step that has to lie within the samples: the rest is drift, not rise. */
const SEEN = 0.1
/** Fewer samples than this within three time constants say nothing, unless the edge was logged. */
const FEWEST_SAMPLES = 3

/** Share of L/R that the interval of the samples may take, unless the edge was logged. */
const RESOLVED = 0.5

/**
 * Inductance from the current after a voltage step with the rotor held:
 *   i(t) = i∞ + (i₀ − i∞) exp(−t/τ), τ = L/R, i∞ = (v − V_b)/R
 * in its form for a voltage that sags with the current: exact from sample to sample for a voltage that runs
 * straight between them. Fitted are τ, R and the current at the first sample that lies wholly after the edge,
 * never anything across it; where the edge was logged the current starts there from its value before instead.
 * Null where the rise is faster than the samples or lost in noise.
 */
export function fitCurrentRise(
  signals: RunSignals,
  phase: Phase,
  brush: BrushModel,
): CurrentRise | null {
  const { timeSec, current, voltage } = signals
  if (!timeSec || !current || !voltage || isCoarse(timeSec)) return null
  const quick = timeTo80(current, phase)
  const spacing = (timeSec[phase.end - 1]! - timeSec[phase.start]!) / (phase.end - 1 - phase.start)
  const edge = phase.start > 4 ? phase.edgeSec : null
  if (!(spacing > 0) || quick < (edge === null ? FEWEST_SAMPLES : 1)) return null
  const apertureSec = current.traits.apertureSec
  const start = firstWhole(timeSec, phase, edge, apertureSec)
  const end = Math.min(phase.end, start + Math.max(12, Math.ceil((LENGTH * quick) / SPAN_OF_80)))
  const time = timeSec.subarray(start, end)
  const amp = current.values.slice(start, end)
  const volt = voltage.values.subarray(start, end)
  if (amp.length < 6 || amp.some(Number.isNaN) || volt.some(Number.isNaN)) return null

  const before = plainMean(current.values, phase.start - 4, phase.start)
  const tail = Math.floor(amp.length * 0.8)
  const final = plainMean(amp, tail, amp.length)
  const resistance = (plainMean(volt, tail, volt.length) - brushVolt(brush, final)) / final
  const change = Math.abs(final - (edge === null ? amp[0]! : before))
  const whole = Math.abs(final - (phase.start > 4 ? before : 0))
  const seen = change > Math.max(8 * current.noise, SEEN * whole)
  if (!(resistance > 0) || !seen) return null

  const curve = (p: readonly number[]) => {
    const [tau, ohm] = [p[0]!, p[1]!]
    const winding = { brush, tau, ohm }
    const waitSec = edge === null ? 0 : time[0]! - edge - current.traits.delaySec
    const first =
      edge === null ? p[2]! : startAfterEdge(winding, before, volt[0]!, waitSec, apertureSec)
    return firstOrder(winding, time, volt, first)
  }
  const tau = Math.max(quick / SPAN_OF_80, 0.3) * spacing
  const guess = edge === null ? [tau, resistance, amp[0] || 1e-3 * final] : [tau, resistance]
  const fit = fitCurve(curve, amp, guess, { lowest: [1e-3 * tau, 1e-3 * resistance] })
  if (!fit || (edge === null && spacing > RESOLVED * fit.parameters[0]!)) return null
  const inductance = inductanceOf(fit)
  return (
    inductance && {
      inductanceHenry: inductance,
      start,
      fittedAmp: curve(fit.parameters),
    }
  )
}

/** First sample whose averaging window lies wholly after the edge; where it was not logged, one is left out. */
function firstWhole(
  time: Float64Array,
  phase: Phase,
  edge: number | null,
  apertureSec: number,
): number {
  if (edge === null) return apertureSec > 0 ? phase.start + 1 : phase.start
  let first = phase.start
  while (first < phase.end && time[first]! - apertureSec < edge - 1e-9 * Math.abs(edge)) first++
  return first
}

/** Steps from the edge to the first sample. */
const FINE_STEPS = 24

/** What a sensor that averages over its aperture reads a time after the edge, at a voltage held since. */
function startAfterEdge(
  winding: Winding,
  before: number,
  volt: number,
  waitSec: number,
  apertureSec: number,
): number {
  const wait = Math.max(0, waitSec)
  const step = stepOf(wait / FINE_STEPS, winding.tau)
  const from = Math.min(FINE_STEPS, Math.round(FINE_STEPS * (1 - apertureSec / (wait || 1))))
  let amp = before
  let sum = 0
  for (let n = 0; n < FINE_STEPS; n++) {
    const next = nextAmp(winding, step, amp, volt, volt)
    if (n >= from) sum += (amp + next) / 2
    amp = next
  }
  return from >= FINE_STEPS ? amp : sum / (FINE_STEPS - Math.max(0, from))
}

/** L = τ R with the covariance of the two; null where half or more of it is uncertainty. */
function inductanceOf({ parameters, covariance, degreesOfFreedom }: CurveFit): Estimate | null {
  const [tau, ohm] = [parameters[0]!, parameters[1]!]
  const variance =
    ohm ** 2 * covariance[0]![0]! +
    tau ** 2 * covariance[1]![1]! +
    2 * ohm * tau * covariance[0]![1]!
  const value = tau * ohm
  const standardUncertainty = Math.sqrt(Math.max(0, variance))
  if (!(value > 0 && standardUncertainty < value / 2)) return null
  return { value, standardUncertainty, degreesOfFreedom }
}

interface Winding {
  readonly brush: BrushModel
  /** L/R in seconds. */
  readonly tau: number
  readonly ohm: number
}

/** How far a step goes: 1 − exp(−x), and 1 less the mean of that for a voltage that changes, x = Δt/τ. */
interface RiseStep {
  readonly lag: number
  readonly bend: number
}

function stepOf(stepSec: number, tau: number): RiseStep {
  const x = stepSec / tau
  const lag = -Math.expm1(-x)
  return { lag, bend: x > 0 ? 1 - lag / x : 0 }
}

/** Times of even samples differ by rounding alone: steps alike to this share are one. */
const SAME_STEP = 1e-9

/**
 * Current of L di/dt = v − R i − V_b(i), v straight between the samples; the drop is that of the current at the
 * start of each step, and of the coming current while it is still nil.
 */
function firstOrder(
  winding: Winding,
  time: Float64Array,
  volt: Float64Array,
  first: number,
): Float64Array {
  const amp = new Float64Array(time.length)
  amp[0] = first
  let stepSec = Number.NaN
  let step = stepOf(0, winding.tau)
  for (let n = 0; n + 1 < time.length; n++) {
    const nowSec = time[n + 1]! - time[n]!
    if (!(Math.abs(nowSec - stepSec) <= SAME_STEP * stepSec)) {
      stepSec = nowSec
      step = stepOf(stepSec, winding.tau)
    }
    amp[n + 1] = nextAmp(winding, step, amp[n]!, volt[n]!, volt[n + 1]!)
  }
  return amp
}

/** The current a step later, with the drop at the middle of the step, by one look ahead. */
function nextAmp(
  { brush, ohm }: Winding,
  { lag, bend }: RiseStep,
  amp: number,
  volt: number,
  nextVolt: number,
): number {
  const slope = ((nextVolt - volt) / ohm) * bend
  const early = brushVolt(brush, amp || volt)
  const ahead = amp - lag * (amp - (volt - early) / ohm) + slope
  const drop = brushVolt(brush, (amp + ahead) / 2)
  return amp - lag * (amp - (volt - drop) / ohm) + slope
}
