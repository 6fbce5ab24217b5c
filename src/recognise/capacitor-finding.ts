import type { MotorFinding } from '../contract/recognise-document.ts'
import { linearLeastSquares } from '../numerics/linear/least-squares.ts'
import { findPhases, type Phase } from '../signals/phases.ts'
import type { RunSignals } from '../signals/run-signals.ts'
import { plainMean } from '../signals/steady-levels.ts'
import type { FirstLook } from './first-look.ts'
import { cannotSay, notSeen, number, seen } from './say.ts'

/** A current channel that averages at least this share of the time between samples misses no charge. */
const WHOLE_APERTURE = 0.9
/** Samples from the edge on in which the charge has flowed; the rise is judged by those after. */
const EDGE_SAMPLES = 1
const RISE_SAMPLES = 40
/** A rise faster than so many samples cannot be carried back. */
const RESOLVED = 1.5
const FEWEST_STEPS = 6
/** Only steps above this share of the largest: in small ones the brush drop bends the rise. */
const LARGE_SHARE = 0.4
const SIGNIFICANT = 5
/** Stray capacitance of leads and winding, and what the bending rise may feign; a larger bound says nothing. */
const LEAST_FARAD = 1e-8
/** The voltage at the edge is not the settled one by which the charge is divided. */
const SAG_SHARE = 0.1
const TELLING_BOUND_FARAD = 1e-7

/**
 * A capacitor across the terminals takes a charge C Δv when the voltage steps, before the winding's current has
 * begun to rise. The rise i = a − b exp(−t/τ) of a locked rotor is fitted to the samples after the first and
 * carried back to the edge. What more has flowed by then is C Δv where it is a capacitor's. A brush drop that
 * builds up over a knee current I_b lets the current start steeper for a time I_b L/v, which looks like a charge
 * missing as 1/v²: both are fitted. Needs a current channel that averages from sample to sample, and the time of
 * the edge.
 */
export function capacitorFinding({ stalls }: FirstLook): MotorFinding {
  const test =
    'a locked-rotor test with logged bridge edges and a current channel that averages over the whole sample, 10 000 samples a second or more'
  const all = stalls.flatMap(({ signals }) =>
    findPhases(signals).phases.flatMap(phase => chargeOf(signals, phase) ?? []),
  )
  const largest = Math.max(0, ...all.map(({ volt }) => volt))
  const found = all.filter(({ volt }) => volt > LARGE_SHARE * largest)
  const runs = stalls.map(({ run }) => run.id)
  if (found.length < FEWEST_STEPS) {
    return cannotSay(
      'capacitor',
      'no voltage step was sampled so that a rush of charge would show',
      test,
      [],
      runs,
    )
  }
  const fit = linearLeastSquares(
    [found.map(({ volt }) => volt), found.map(({ volt }) => 1 / volt ** 2)],
    found.map(({ coulomb }) => coulomb),
  )
  if (!fit.ok || fit.value.residualVariance === null) {
    return cannotSay('capacitor', 'all steps of the voltage have one size', test, [], runs)
  }
  const value = fit.value.coefficients[0]!
  const standardUncertainty = Math.hypot(
    Math.sqrt(fit.value.inverseNormal[0]![0]! * fit.value.residualVariance),
    LEAST_FARAD,
    SAG_SHARE * Math.max(0, value),
  )
  const evidence = [
    number('charge at the edge over the step of voltage', value, 'F', standardUncertainty),
    number('steps of voltage', found.length, '1'),
  ]
  if (value > SIGNIFICANT * standardUncertainty && value > LEAST_FARAD) {
    return seen(
      'capacitor',
      'likely',
      'a charge rushes in at every step of the voltage, too soon for the winding: a capacitor. A bridge that switches has to carry these peaks; allow for its blanking time',
      evidence,
      runs,
    )
  }
  if (value < -2 * standardUncertainty) {
    return cannotSay(
      'capacitor',
      'the current does not rise as that of a plain winding does',
      test,
      evidence,
      runs,
    )
  }
  const bound = Math.max(0, value) + 2 * standardUncertainty
  return bound < TELLING_BOUND_FARAD
    ? notSeen(
        'capacitor',
        'likely',
        'the steps of the voltage bring no more charge than the winding takes',
        [...evidence, number('at most', bound, 'F')],
        runs,
      )
    : cannotSay(
        'capacitor',
        'the charge at the edges is not known well enough',
        test,
        evidence,
        runs,
      )
}

function chargeOf(signals: RunSignals, phase: Phase): { volt: number; coulomb: number } | null {
  const { timeSec, current, voltage } = signals
  const { start, end, edgeSec, kind } = phase
  const first = start + EDGE_SAMPLES
  if (kind !== 'drive' || edgeSec === null || start < 5 || end < first + RISE_SAMPLES) return null
  const time = timeSec!
  const spacing = time[start + 1]! - time[start]!
  if (!(current!.traits.apertureSec > WHOLE_APERTURE * spacing)) return null
  const before = plainMean(current!.values, start - 4, start)
  const settledVolt = plainMean(voltage!.values, end - RISE_SAMPLES / 2, end)
  const step = settledVolt - plainMean(voltage!.values, start - 4, start)
  const settledAmp = plainMean(current!.values, end - RISE_SAMPLES / 2, end)
  // A step that shows: from rest, out of the noise.
  if (Math.abs(before) > 6 * current!.noise || Math.abs(settledAmp) < 50 * current!.noise)
    return null
  const last = Math.min(end, first + RISE_SAMPLES)
  const at = (i: number) => time[i]! - edgeSec
  const amp = current!.values.subarray(first, last)
  if (amp.some(Number.isNaN)) return null
  const rise = bestRise(amp, i => at(first + i), spacing)
  if (!rise) return null
  const { a, b, tau } = rise
  if (tau < RESOLVED * spacing) return null
  // b belongs to means over a sample; the course itself at the stamp is smaller by this factor.
  const x = spacing / tau
  const course = (b * x) / Math.expm1(x)
  const span = at(first - 1)
  const expected = a * span + course * tau * Math.expm1(-span / tau)
  let charge = 0
  for (let i = start; i < first; i++) charge += current!.values[i]! * spacing
  return { volt: Math.abs(step), coulomb: (charge - expected) * Math.sign(step) }
}

const TRIES = 80

/** i = a − b exp(−t/τ) by trying τ on a ladder, the rest linear. */
function bestRise(amp: Float64Array, at: (i: number) => number, spacing: number) {
  let best: { a: number; b: number; tau: number; sum: number } | null = null
  let low = Math.log(spacing)
  let high = Math.log(60 * spacing)
  for (let round = 0; round < 3; round++) {
    const width = (high - low) / TRIES
    for (let n = 0; n <= TRIES; n++) {
      const tau = Math.exp(low + n * width)
      const decay = Float64Array.from(amp, (_, i) => -Math.exp(-at(i) / tau))
      const fit = linearLeastSquares([new Float64Array(amp.length).fill(1), decay], amp)
      if (!fit.ok || (best && fit.value.weightedSquareSum >= best.sum)) continue
      const [a, b] = fit.value.coefficients
      const sum = fit.value.weightedSquareSum
      best = { a: a!, b: b!, tau, sum }
    }
    if (!best) return null
    low = Math.log(best.tau) - 2 * width
    high = Math.log(best.tau) + 2 * width
  }
  return best
}
