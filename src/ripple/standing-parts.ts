import type { EmfPiece } from './emf-course.ts'
import type { IdentifiedComb } from './identify-comb.ts'
import { multiplesOf } from './steady-evidence.ts'
import { type SteadyRatio, steadyLines, steadyRatio } from './steady-rate.ts'

/** Parts in which fewer ripples passed than this tell no change of the speed. */
const LEAST_RIPPLES = 30
const PARTS = 3
/** The speed changed where parts differ by more than this share, and by so many standard uncertainties. */
const CHANGED_SHARE = 1e-3
const CHANGED_SIGMAS = 5

/**
 * The parts of a stretch over which the speed stood, and those over which it did not, as the commutation's own lines tell it: where it
 * is not the same in the thirds of a stretch, each is looked at by itself; else its ends are looked at once more.
 *
 * @param turnsPerSample expected in it
 */
export function standingParts(
  piece: EmfPiece,
  turnsPerSample: number,
  from: number,
  to: number,
  comb: IdentifiedComb,
): [number, number][] {
  return partedAt(cutsIn(piece, turnsPerSample, from, to, comb), from, to)
}

function partedAt(cuts: readonly number[], from: number, to: number): [number, number][] {
  const ends = [from, ...cuts, to]
  return ends.slice(1).map((end, k) => [ends[k]!, end])
}

function cutsIn(
  piece: EmfPiece,
  turnsPerSample: number,
  from: number,
  to: number,
  comb: IdentifiedComb,
): number[] {
  const toldIn = (count: number) => toldInParts(piece, turnsPerSample, from, to, comb, count)
  const [first, middle, last] = toldIn(PARTS)
  const at = (part: number) => from + Math.floor((part * (to - from)) / (2 * PARTS))
  if (first === undefined) return []
  // Where two of them tell the same, so must the third if the speed stood there.
  const isEarly = differ(first, middle!) || (first === null && middle !== null && last !== null)
  const isLate = differ(middle!, last!) || (last === null && first !== null && middle !== null)
  if (isEarly || isLate) {
    const cut = at(isEarly ? 2 : 4)
    return [
      ...cutsIn(piece, turnsPerSample, from, cut, comb),
      cut,
      ...cutsIn(piece, turnsPerSample, cut, to, comb),
    ]
  }
  if (differ(first, last!)) return [at(2), at(4)]
  const finer = toldIn(2 * PARTS)
  const inner = finer.slice(1, -1)
  if (inner.length === 0 || inner.some(told => told === null)) return []
  const isOther = (outer: SteadyRatio | null, next: SteadyRatio | null) =>
    outer === null || differ(outer, next)
  return [
    ...(isOther(finer[0]!, finer[1]!) ? [at(1)] : []),
    ...(isOther(finer.at(-1)!, finer.at(-2)!) ? [at(5)] : []),
  ]
}

/** Part by part; empty where too few ripples passed in each. */
function toldInParts(
  piece: EmfPiece,
  turnsPerSample: number,
  from: number,
  to: number,
  comb: IdentifiedComb,
  count: number,
): (SteadyRatio | null)[] {
  const length = (to - from) / count
  if (length * turnsPerSample * comb.ripplesPerTurn < LEAST_RIPPLES) return []
  return Array.from({ length: count }, (_, k) => {
    const [start, end] = [from + Math.floor(k * length), from + Math.floor((k + 1) * length)]
    return ratioIn(piece, turnsPerSample, start, end, comb)
  })
}

function ratioIn(
  { raw, switching }: EmfPiece,
  turnsPerSample: number,
  from: number,
  to: number,
  comb: IdentifiedComb,
): SteadyRatio | null {
  const { ripplesPerTurn } = comb
  const lines = steadyLines(raw.subarray(from, to), turnsPerSample, ripplesPerTurn, switching)
  return lines && steadyRatio(lines, multiplesOf(comb))
}

/** What is not told does not differ. */
function differ(a: SteadyRatio | null, b: SteadyRatio | null): boolean {
  if (a === null || b === null) return false
  const sigma = Math.hypot(a.standardUncertainty, b.standardUncertainty)
  return Math.abs(a.ratio - b.ratio) > Math.max(CHANGED_SHARE, CHANGED_SIGMAS * sigma)
}
