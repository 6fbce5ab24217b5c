import type { MotorFinding } from '../contract/recognise-document.ts'
import { findPhases } from '../signals/phases.ts'
import type { RunSignals } from '../signals/run-signals.ts'
import { plainMean } from '../signals/steady-levels.ts'
import { angleOf } from './angle-course.ts'
import { constantOf, type FirstLook, surestTransient } from './first-look.ts'
import { cannotSay, notSeen, number, seen } from './say.ts'

/** Arcs over which the drag is averaged, and how many of them are looked at after a reversal. */
const ARC_RAD = 0.2
const MOST_ARCS = 150
const FEWEST_ARCS = 12
const EDGE_ARCS = 3
const EARLY_SAMPLES = 40
/** The drag rises by this share of itself, and by so many standard uncertainties, where play ends. */
const RISE_SHARE = 0.25
const SIGNIFICANT = 6

/**
 * After a reversal the shaft of a geared motor first turns through the play against its own friction alone, then
 * takes the gears along: the drag, i − (dω/dt)/(k_t/J) in amperes, rises by a step at that angle. Break-away and
 * Stribeck friction fall after a reversal and feign nothing.
 */
export function backlashFinding(look: FirstLook): MotorFinding {
  const { turning } = look
  const test =
    'at a small voltage turn the shaft slowly a turn or two one way, then the other, with a run-up for the inertia'
  const gain = surestTransient(turning)?.moving.transient?.gain
  if (!gain || !constantOf(look)) {
    return cannotSay(
      'backlash',
      'without a run-up the torque that accelerates the shaft is not known',
      test,
    )
  }
  const looked = turning.flatMap(({ run, signals }) =>
    reversalsOf(signals, gain).map(each => ({ ...each, run: run.id })),
  )
  if (looked.length === 0) {
    return cannotSay(
      'backlash',
      'no test turns the shaft round from one direction to the other under current, slowly enough for its samples',
      test,
    )
  }
  const steps = looked.filter(
    ({ step, sigma, before }) => step > SIGNIFICANT * sigma && step > RISE_SHARE * Math.abs(before),
  )
  const runs = [...new Set(looked.map(({ run }) => run))]
  if (steps.length * 2 <= looked.length) {
    return notSeen(
      'backlash',
      'hint',
      'the drag does not rise some way after a reversal: no play that ends in friction',
      [
        number('reversals', looked.length, '1'),
        number('looked at after each, at most', MOST_ARCS * ARC_RAD, 'rad'),
      ],
      runs,
      test,
    )
  }
  const angle = steps.reduce((sum, { angleRad }) => sum + angleRad, 0) / steps.length
  const rise = steps.reduce((sum, { step }) => sum + step, 0) / steps.length
  return seen(
    'backlash',
    steps.length > 1 ? 'likely' : 'hint',
    'after a reversal the shaft turns freely at first, then takes something along: a gearbox or a coupling with play',
    [
      number('play, at the motor shaft', angle, 'rad', ARC_RAD),
      number('drag beyond the play', rise, 'A', steps[0]!.sigma),
      number('reversals with it', steps.length, '1'),
      number('reversals', looked.length, '1'),
    ],
    runs,
    'hold the output and feel the motor shaft move',
  )
}

function reversalsOf(signals: RunSignals, gain: number) {
  const { speed, current, voltage, timeSec } = signals
  const angle = angleOf(signals)
  if (!angle || !speed || !current || !voltage || !timeSec) return []
  const driven = findPhases(signals).phases.filter(({ kind }) => kind === 'drive')
  return driven.flatMap((phase, p) => {
    const before = driven[p - 1]
    if (!before || before.end - before.start < 10) return []
    const sign = Math.sign(plainMean(voltage.values, phase.start, phase.end))
    const was = Math.sign(plainMean(speed.values, before.end - 10, before.end))
    if (sign === 0 || was !== -sign) return []
    let first = phase.start
    while (first < phase.end && sign * speed.values[first]! <= 0) first++
    const drags = dragsOf(signals, angle, gain, first, phase.end, sign)
    return drags.length < FEWEST_ARCS ? [] : [stepOf(drags)]
  })
}

/** Mean drag in each arc after the shaft began to turn the new way. */
function dragsOf(
  { speed, current, timeSec }: RunSignals,
  angle: Float64Array,
  gain: number,
  first: number,
  end: number,
  sign: number,
): number[] {
  const drags: number[] = []
  // Samples too far apart on the shaft see nothing of an arc.
  const early = angle.subarray(first, Math.min(end, first + EARLY_SAMPLES))
  if (early.some((at, i) => i > 0 && Math.abs(at - early[i - 1]!) > ARC_RAD)) return drags
  let from = first
  for (let i = first + 1; i < end && drags.length < MOST_ARCS; i++) {
    if (Math.abs(angle[i]! - angle[from]!) < ARC_RAD) continue
    const rise = (speed!.values[i]! - speed!.values[from]!) / (timeSec![i]! - timeSec![from]!)
    drags.push(sign * (plainMean(current!.values, from, i) - rise / gain))
    from = i
  }
  return drags
}

/** The one step that leaves the least squares. */
function stepOf(drags: readonly number[]) {
  const mean = (part: readonly number[]) => part.reduce((sum, d) => sum + d, 0) / part.length
  const squares = (part: readonly number[]) => {
    const centre = mean(part)
    return part.reduce((sum, d) => sum + (d - centre) ** 2, 0)
  }
  let best = { at: EDGE_ARCS, sum: Number.POSITIVE_INFINITY }
  for (let at = EDGE_ARCS; at <= drags.length - EDGE_ARCS; at++) {
    const sum = squares(drags.slice(0, at)) + squares(drags.slice(at))
    if (sum < best.sum) best = { at, sum }
  }
  const [low, high] = [drags.slice(0, best.at), drags.slice(best.at)]
  const spread = Math.sqrt(best.sum / (drags.length - 2))
  return {
    angleRad: best.at * ARC_RAD,
    before: mean(low),
    step: mean(high) - mean(low),
    sigma: spread * Math.sqrt(1 / low.length + 1 / high.length),
  }
}
