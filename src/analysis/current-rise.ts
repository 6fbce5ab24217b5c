import type { Phase } from '../signals/phases.ts'
import type { RunSignals } from '../signals/run-signals.ts'
import { plainMean, timeTo80 } from '../signals/steady-levels.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'
import { fitCurve } from './curve-fit.ts'

/** One exponential rise of the current, and what its time constant says. */
export interface CurrentRise {
  readonly inductanceHenry: Estimate
  readonly resistanceOhm: Estimate
  readonly timeConstantSec: number
  readonly start: number
  /** Fitted current at the samples from `start`. */
  readonly fittedAmp: Float64Array
}

/** A first-order rise falls to 20 % of its change after 1.61 time constants. */
const SPAN_OF_80 = Math.log(5)
/** The rise is fitted over so many time constants. */
const LENGTH = 10
/** Fewer samples than this within three time constants say nothing, unless the edge was logged. */
const FEWEST_SAMPLES = 3

/**
 * Inductance from the current after a voltage step with the rotor held:
 *   i(t) = i∞ + (i₀ − i∞) exp(−t/τ), τ = L/R, i∞ = (v − V_b)/R
 * in its form for a voltage that sags with the current: exact from sample to sample for a voltage that runs
 * straight between them. Fitted are τ, R and the current at the first sample after the edge, never anything
 * across it; where the edge was logged the current starts there from its value before instead.
 * Null where the rise is faster than the samples or lost in noise.
 */
export function fitCurrentRise(
  signals: RunSignals,
  phase: Phase,
  brushDropVolt: number,
  backEmfVolt: Float64Array | null = null,
): CurrentRise | null {
  const { timeSec, current, voltage } = signals
  if (!timeSec || !current || !voltage) return null
  const quick = timeTo80(current, phase)
  const spacing = (timeSec[phase.end - 1]! - timeSec[phase.start]!) / (phase.end - 1 - phase.start)
  const logged = phase.edgeSec !== null && phase.start > 4
  if (!(spacing > 0) || (quick < FEWEST_SAMPLES && !logged)) return null
  const length = Math.max(12, Math.ceil((LENGTH * quick) / SPAN_OF_80))
  const end = Math.min(phase.end, phase.start + length)
  const time = timeSec.subarray(phase.start, end)
  const amp = current.values.subarray(phase.start, end)
  if (amp.length < 6 || amp.some(Number.isNaN)) return null
  const net = voltage.values.slice(phase.start, end)
  if (backEmfVolt) for (let i = 0; i < net.length; i++) net[i]! -= backEmfVolt[phase.start + i]!
  if (net.some(Number.isNaN)) return null

  const before = logged ? plainMean(current.values, phase.start - 4, phase.start) : Number.NaN
  const final = plainMean(amp, Math.floor(amp.length * 0.8), amp.length)
  const resistance = (plainMean(net, Math.floor(net.length * 0.8), net.length) - Math.sign(final) * brushDropVolt) / final
  if (!(resistance > 0) || Math.abs(final - (logged ? before : amp[0]!)) < 8 * current.noise) return null

  const simulate = (tau: number, ohm: number, first: number) =>
    firstOrder(time, net, brushDropVolt, tau, ohm, first)
  const curve = (p: readonly number[]) => {
    if (!logged) return simulate(p[0]!, p[1]!, p[2]!)
    const wait = time[0]! - phase.edgeSec!
    const aim = (net[0]! - brushDropVolt * Math.sign(net[0]!)) / p[1]!
    return simulate(p[0]!, p[1]!, aim + (before - aim) * Math.exp(-Math.max(0, wait) / p[0]!))
  }
  const tau = Math.max(quick / SPAN_OF_80, 0.3) * spacing
  const first = amp[0] === 0 ? 1e-3 * final : amp[0]!
  const start = logged ? [tau, resistance] : [tau, resistance, first]
  const fit = fitCurve(curve, Float64Array.from(amp), start, { lowest: [1e-3 * tau, 1e-3 * resistance] })
  if (!fit) return null
  const [tauSec, ohm] = [fit.parameters[0]!, fit.parameters[1]!]
  const variance =
    ohm ** 2 * fit.covariance[0]![0]! +
    tauSec ** 2 * fit.covariance[1]![1]! +
    2 * ohm * tauSec * fit.covariance[0]![1]!
  const inductance = tauSec * ohm
  const uncertainty = Math.sqrt(Math.max(0, variance))
  if (!(inductance > 0 && uncertainty < inductance / 2)) return null
  const { degreesOfFreedom } = fit
  return {
    inductanceHenry: { value: inductance, standardUncertainty: uncertainty, degreesOfFreedom },
    resistanceOhm: {
      value: ohm,
      standardUncertainty: Math.sqrt(fit.covariance[1]![1]!),
      degreesOfFreedom,
    },
    timeConstantSec: tauSec,
    start: phase.start,
    fittedAmp: curve(fit.parameters),
  }
}

/**
 * Current of L di/dt = v − R i − V_b sgn(i), v straight between the samples; the sign is that of the voltage
 * while the current is still nil.
 */
function firstOrder(
  time: Float64Array,
  volt: Float64Array,
  brushDropVolt: number,
  tau: number,
  ohm: number,
  first: number,
): Float64Array {
  const amp = new Float64Array(time.length)
  amp[0] = first
  for (let n = 0; n + 1 < time.length; n++) {
    const x = (time[n + 1]! - time[n]!) / tau
    const decay = Math.exp(-x)
    const lag = -Math.expm1(-x)
    const drop = brushDropVolt * Math.sign(amp[n]! || volt[n]!)
    const here = (volt[n]! - drop) / ohm
    const next = (volt[n + 1]! - drop) / ohm
    amp[n + 1] = decay * amp[n]! + lag * here + (next - here) * (x > 0 ? 1 - lag / x : 0)
  }
  return amp
}
