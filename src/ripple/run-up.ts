import { approach } from './approach.ts'
import { plainMean } from '../signals/steady-levels.ts'
import type { EmfCourse, EmfPiece } from './emf-course.ts'
import { weightedMean } from './weighted-mean.ts'

/** The end of the piece before, in which the shaft turned nearly as fast. */
export interface RunUp {
  readonly raw: Float64Array
  /** Mean share by which it turned faster there, weighted as a Hann window weighs a line. */
  readonly faster: number
}

/** Over the whole run-up the commutation may gain or lose so much against the speed at its end, in periods. */
const MOST_GAINED = 0.25
/** A shorter run-up resolves no more than the piece itself. */
const LEAST_LENGTH = 1.5
/** The approach is judged from where the speed was this far off, share … */
const FARTHEST = 0.03
/** … by means of the current over so many whole turns, so that friction that differs round a turn does not count. */
const BLOCK_TURNS = 1
const LEAST_BLOCKS = 6
const MOST_BLOCKS = 400
/**
 * While the bridge applies one voltage, the current tells how far the shaft still is from its speed: v = R i + V_b + k ω, so
 * ω is higher by R Δi/(k ω) where the current is lower by Δi, and the difference dies away exponentially. A line of one
 * frequency must hold its phase over the run-up.
 *
 * @param emfVolt at the speed of the piece
 */
export function runUpTo(
  piece: EmfPiece,
  { pieces, resistanceOhm }: EmfCourse,
  emfVolt: number,
  turnsPerSample: number,
  ripplesPerTurn: number,
): RunUp | null {
  const before = pieces.find(({ end }) => end === piece.start)
  if (!piece.continues || piece.terminals === 'open') return null
  if (before === undefined || resistanceOhm === null) return null
  const settled = plainMean(piece.ripple, 0, piece.ripple.length)
  const turns = Math.max(BLOCK_TURNS, (before.ripple.length * turnsPerSample) / MOST_BLOCKS)
  const block = Math.round(turns / turnsPerSample)
  const shares: number[] = []
  for (let end = before.ripple.length; end >= block; end -= block) {
    const amp = plainMean(before.ripple, end - block, end)
    const share = (resistanceOhm * (settled - amp)) / emfVolt
    if (Math.abs(share) > FARTHEST) break
    shares.push(share)
  }
  if (shares.length < LEAST_BLOCKS) return null
  const course = approach(shares)
  let blocks = 0
  let gained = 0
  while (blocks < course.length) {
    gained += course[blocks]! * turnsPerSample * ripplesPerTurn * block
    if (Math.abs(gained) > MOST_GAINED) break
    blocks++
  }
  if (blocks * block < LEAST_LENGTH * piece.ripple.length) return null
  const raw = before.raw.subarray(before.raw.length - blocks * block)
  return { raw, faster: underHann(course.slice(0, blocks)) }
}

const underHann = (values: readonly number[]) =>
  weightedMean(
    values,
    values.map((_, k) => 1 - Math.cos((2 * Math.PI * (k + 0.5)) / values.length)),
  )
