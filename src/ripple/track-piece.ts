import { isAstray, isOnSwitching, levelAt } from './astray.ts'
import { bridgeDips, runsOf } from './bridge-dips.ts'
import type { EmfCourse, EmfPiece } from './emf-course.ts'
import { expectedSpeed, smoothed } from './expected-speed.ts'
import { follow, type FollowRange } from './follow.ts'
import type { IdentifiedComb } from './identify-comb.ts'
import { turningStretches } from './lay-out.ts'
import {
  type ExpectedStretch,
  interpolated,
  type Measured,
  measureStretch,
  spanOf,
  type TrackedStretch,
} from './measure-stretch.ts'
import { withPull } from './pulled.ts'
import type { RippleSettings } from './ripple-settings.ts'
import { type AngleSettings, shaftAngle } from './shaft-angle.ts'
import {
  agrees,
  LEAST_STEADY_COHERENCE,
  outvoted,
  STEADY_COHERENCE,
  steadyFit,
  steadyOrders,
  stretchOf,
} from './steady-stretch.ts'

const LEAST_EMF_SHARE = 0.04
const SMOOTH_RIPPLES = 10
/**
 * Ways to a first angle, tried in turn until one keeps its phase nearly all along: a back-EMF smoothed over few ripples
 * keeps up with a start, one smoothed over many is quiet at a steady speed, and so are longer windows.
 */
const TRIES = [
  { smoothRipples: SMOOTH_RIPPLES, growth: 1 },
  { smoothRipples: 8 * SMOOTH_RIPPLES, growth: 1 },
  { smoothRipples: 8 * SMOOTH_RIPPLES, growth: 4 },
  { smoothRipples: 40 * SMOOTH_RIPPLES, growth: 1 },
  { smoothRipples: 40 * SMOOTH_RIPPLES, growth: 4 },
] as const
const NEARLY_ALL = 0.97
/** By how much a resistance known roughly may put it wrong while much current flows. */
const NEAR: FollowRange = { low: -0.3, high: 0.3, stepSpread: 0.015 }
/** The back-EMF was good enough where this share of a stretch could be followed by it. */
const ENOUGH = 0.8
/** Around a window whose phases agree less than this the shaft is lost. */
const LEAST_COHERENCE = 0.75
/** In the last pass over a stretch, which measures, windows may grow so far. */
const LAST_GROWTH = 8
/** The phase's slope is smoothed over so many windows to either side when it corrects the speed. */
const SLOPE_REACH = 4

/** The stretches of a piece over which the shaft was followed. */
export function trackPiece(
  piece: EmfPiece,
  course: EmfCourse,
  comb: IdentifiedComb,
  settings: RippleSettings,
): TrackedStretch[] {
  const emf = smoothed(piece.emf!, comb, course.rateHz, SMOOTH_RIPPLES)
  const speedOf = expectedSpeed(piece.terminals, comb, course.rateHz)
  const expected = emf.map(speedOf)
  const turning = turningStretches(emf, LEAST_EMF_SHARE * comb.emfReachVolt)
  const settle = angleSettings(piece, course, comb, settings)
  return turning.flatMap(([from, to]) => {
    const sign = emf[from]! < 0 ? -1 : 1
    const once = { ...settle, orders: [], mostGrowth: 1 }
    const fit = steadyFit(piece, expected, from, to, comb, course)
    const steady = fit === null ? null : stretchOf(fit, expected.length)
    let spans = steady !== null && agrees(piece, steady, settle) > STEADY_COHERENCE ? [steady] : []
    for (const { smoothRipples, growth } of TRIES) {
      if (covered(spans) > NEARLY_ALL * (to - from)) break
      const turnsPerSample = smoothed(piece.emf!, comb, course.rateHz, smoothRipples).map(speedOf)
      const found = corrected(
        piece,
        { from, to, turnsPerSample, isSteady: false },
        { ...once, mostGrowth: growth },
      )
      if (longest(found) > longest(spans)) spans = found
    }
    if (covered(spans) <= ENOUGH * (to - from)) {
      const found = frameByFrame(piece, expected, from, to, comb, NEAR).flatMap(span =>
        corrected(piece, span, once),
      )
      if (longest(found) > longest(spans)) spans = found
    }
    if (steady !== null && longest(spans) <= ENOUGH * (to - from)) {
      if (agrees(piece, steady, settle) > LEAST_STEADY_COHERENCE) spans = [steady]
    }
    const last = { ...settle, mostGrowth: LAST_GROWTH }
    const measured = spans.flatMap(span => {
      const strays = (found: Measured | null) =>
        found !== null && isAstray(found, piece.start, expected, comb, course.rateHz)
      let found = measureStretch(piece, span, last)
      // The neighbour of an order was followed: once more, by the back-EMF alone.
      if (strays(found))
        found = measureStretch(piece, { ...span, turnsPerSample: expected, isSteady: false }, last)
      if (found === null || strays(found)) return []
      if (isOnSwitching(found, piece.switching, comb)) return []
      return [found]
    })
    // A phase that was followed beside the switching may be the switching's.
    const followed = comb.beside === null ? measured : []
    const told = fit === null ? followed : outvoted(followed, piece, fit, comb)
    const isOpen =
      fit === null
        ? levelAt(expected, from, to, piece.start, comb.levels, course.rateHz) !== null
        : !fit.isBorneOut
    return told.map(found => {
      const doubted = isOpen ? withPull(found, piece.switching, comb) : found
      return { ...doubted, terminals: piece.terminals, sign } as const
    })
  })
}

const covered = (spans: readonly ExpectedStretch[]) =>
  spans.reduce((sum, span) => sum + span.to - span.from, 0)
const longest = (spans: readonly ExpectedStretch[]) =>
  spans.reduce((most, span) => Math.max(most, span.to - span.from), 0)

function angleSettings(
  piece: EmfPiece,
  course: EmfCourse,
  comb: IdentifiedComb,
  { inductanceHenry, resistanceOhm }: RippleSettings,
): Omit<AngleSettings, 'mostGrowth' | 'isSteady'> {
  const lags = piece.terminals === 'closed' && inductanceHenry !== null && resistanceOhm !== null
  const lagSec = lags ? inductanceHenry / resistanceOhm : 0
  const { ripplesPerTurn, stride, orders } = comb
  const lagSamples = lagSec * course.rateHz
  return { ripplesPerTurn, stride, orders, steadyOrders: steadyOrders(comb), lagSamples }
}

/** Where the commutation could be followed at all, with the speed that it showed. */
function frameByFrame(
  piece: EmfPiece,
  expected: Float64Array,
  from: number,
  to: number,
  comb: IdentifiedComb,
  range: FollowRange,
): ExpectedStretch[] {
  const found = follow(piece, expected, from, to, comb.ripplesPerTurn, range)
  if (found === null) return []
  const { places, logRatio, believed } = found
  return runsOf(believed).map(([f, g]) => {
    const span = spanOf(places, f, g, from, to)
    const ratio = interpolated(places, logRatio, f, g)
    const turnsPerSample = expected.map((speed, i) => speed * Math.exp(ratio(i)))
    return { ...span, turnsPerSample, isSteady: false }
  })
}

/** The parts of a stretch in which the ripple keeps its phase, with the expected speed put right by its drift. */
function corrected(
  piece: EmfPiece,
  span: ExpectedStretch,
  settings: Omit<AngleSettings, 'isSteady'>,
): ExpectedStretch[] {
  const { turnsPerSample, from, to } = span
  const angle = shaftAngle(piece, turnsPerSample, from, to, { ...settings, isSteady: false })
  if (angle === null) return []
  const { places } = angle
  const ahead = angle.ahead.slice()
  const kept = angle.coherence.map(value => (value >= LEAST_COHERENCE ? 1 : 0))
  bridgeDips(places, ahead, kept, settings.ripplesPerTurn)
  const slopes = places.map((_, w) => {
    const a = Math.max(0, w - SLOPE_REACH)
    const b = Math.min(places.length - 1, w + SLOPE_REACH)
    return b > a ? (ahead[b]! - ahead[a]!) / (places[b]! - places[a]!) : 0
  })
  return runsOf(kept).map(([f, g]) => {
    const slope = interpolated(places, slopes, f, g)
    const part = spanOf(places, f, g, span.from, span.to)
    const turnsPerSample = span.turnsPerSample.map((speed, i) =>
      i >= part.from && i < part.to ? Math.max(0.5 * speed, speed + slope(i)) : speed,
    )
    return { ...part, turnsPerSample, isSteady: false }
  })
}
