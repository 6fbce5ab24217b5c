import { runsOf } from './bridge-dips.ts'
import type { EmfCourse, EmfPiece } from './emf-course.ts'
import { expectedSpeed } from './expected-speed.ts'
import { follow, type FollowRange } from './follow.ts'
import type { IdentifiedComb } from './identify-comb.ts'
import { turningStretches } from './lay-out.ts'
import { spanOf } from './measure-stretch.ts'
import { standingParts } from './standing-parts.ts'

/** By how much a window's speed may be wrong at its ends. */
const NEAR: FollowRange = { low: -0.04, high: 0.04, stepSpread: 0.015 }
/** So many frames in which the commutation is not seen do not end what was followed. */
const LONGEST_DIP = 8
/** A frame counts with its neighbours: so many may be believed beyond where the commutation is seen. */
const BLURRED = 3

/**
 * A course that lines told, cut to pieces in which the commutation itself is seen from moment to moment, and those where
 * the speed stood parted from the others: a window shows its lines though the speed stood in a part of it only.
 */
export function whereFollowed(course: EmfCourse, comb: IdentifiedComb): EmfCourse {
  const pieces = course.pieces.flatMap(piece => {
    const expected = piece.emf!.map(expectedSpeed(piece.terminals, comb, course.rateHz))
    return turningStretches(expected, 0).flatMap(([from, to]) =>
      followedParts(piece, expected, from, to, comb).map(([a, b]) => partOf(piece, a, b)),
    )
  })
  return { ...course, pieces }
}

function followedParts(
  piece: EmfPiece,
  expected: Float64Array,
  from: number,
  to: number,
  comb: IdentifiedComb,
): [number, number][] {
  const found = follow(piece, expected, from, to, comb.ripplesPerTurn, NEAR)
  if (found === null) return []
  const { places, believed } = found
  const kept = believed.slice()
  for (const [f, g] of runsOf(believed.map(value => 1 - value))) {
    if (f > 0 && g < believed.length - 1 && g - f < LONGEST_DIP) kept.fill(1, f, g + 1)
  }
  const last = kept.length - 1
  return runsOf(kept).flatMap(([first, end]) => {
    const f = first === 0 ? first : first + BLURRED
    const g = end === last ? end : end - BLURRED
    if (g < f) return []
    const span = spanOf(places, f, g, from, to)
    const speed = expected[(span.from + span.to) >> 1]!
    return standingParts(piece, speed, span.from, span.to, comb)
  })
}

const partOf = (piece: EmfPiece, from: number, to: number): EmfPiece => ({
  ...piece,
  start: piece.start + from,
  end: piece.start + to,
  continues: false,
  raw: piece.raw.subarray(from, to),
  ripple: piece.ripple.subarray(from, to),
  emf: piece.emf!.subarray(from, to),
})
