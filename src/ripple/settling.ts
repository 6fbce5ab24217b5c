import { plainMean } from '../signals/steady-levels.ts'
import { medianAbsoluteDeviation, quantileOf } from '../statistics/robust.ts'
import { approach } from './approach.ts'

/** Parts of a stretch whose means are compared. */
const PARTS = 24
/** A change of speed by this share smears the lines of high orders … */
const STEADY_SHARE = 0.0015
/** … and is told from what the later half scatters by as many standard deviations. */
const SCATTER_REACH = 3
/** What changes more is no settling at one level. */
const FARTHEST = 0.06

/**
 * By which share the shaft turns faster in each part of a stretch than at its end, while its speed still settles there
 * exponentially; null where nothing is seen of that.
 *
 * @param emf back-EMF over the stretch, volts
 */
export function settlingOf(emf: Float64Array): readonly number[] | null {
  const length = emf.length / PARTS
  if (length < 2) return null
  const means = Array.from({ length: PARTS }, (_, part) =>
    plainMean(emf, Math.round(part * length), Math.round((part + 1) * length)),
  )
  const later = means.slice(PARTS / 2)
  const settled = quantileOf(later, 0.5)
  const allowed = Math.hypot(STEADY_SHARE * settled, SCATTER_REACH * medianAbsoluteDeviation(later))
  if (Math.abs(means[0]! - settled) <= allowed) return null
  const course = approach(means.toReversed().map(mean => mean / settled - 1)).toReversed()
  return course.every(share => Math.abs(share) < FARTHEST) ? course : null
}

/** Samples after which the speed is as good as settled. */
export function settledAfter(course: readonly number[], samples: number): number {
  const first = course.findIndex(share => Math.abs(share) <= STEADY_SHARE)
  return Math.round(((first < 0 ? course.length - 1 : first) / course.length) * samples)
}

/**
 * A stretch as it would have been read had the shaft turned at its last speed all along: lines of the shaft grow sharp. Cubic
 * between samples.
 */
export function straightened(values: Float64Array, course: readonly number[]): Float64Array {
  const count = values.length
  const made: number[] = []
  const parts = course.length
  let angle = 0
  for (let i = 0; i < count - 1; i++) {
    const place = Math.min(parts - 1, Math.max(0, ((i + 0.5) * parts) / count - 0.5))
    const below = Math.min(parts - 2, Math.floor(place))
    const share = course[below]! + (place - below) * (course[below + 1]! - course[below]!)
    const next = angle + 1 + share
    while (made.length < next) made.push(cubicAt(values, i, (made.length - angle) / (1 + share)))
    angle = next
  }
  return Float64Array.from(made)
}

/** Between samples i and i + 1, by the cubic through the two to either side. Source: Lagrange's interpolation. */
function cubicAt(values: Float64Array, i: number, x: number): number {
  const before = values[Math.max(0, i - 1)]!
  const [here, next] = [values[i]!, values[i + 1]!]
  const after = values[Math.min(values.length - 1, i + 2)]!
  return (
    (-before * x * (x - 1) * (x - 2)) / 6 +
    (here * (x + 1) * (x - 1) * (x - 2)) / 2 -
    (next * (x + 1) * x * (x - 2)) / 2 +
    (after * (x + 1) * x * (x - 1)) / 6
  )
}
