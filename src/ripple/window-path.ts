import type { CombFit } from './comb.ts'
import { haveLikeLines } from './like-lines.ts'
import type { SteadyWindow } from './steady-windows.ts'

/** What turns in one window of a path. */
export interface PathWindow {
  readonly start: number
  readonly end: number
  readonly turnsPerSec: number
  /** ln likelihood of its lines. */
  readonly total: number
  readonly isClear: boolean
  readonly fit: CombFit
}

/** From one window to the next the speed mostly stands, within this share … */
const STANDING_SHARE = 0.01
/** … a change costs so much, in ln likelihood of the shorter window, and more the larger it is, a neper so much … */
const CHANGE_COST = 5
const COST_A_NEPER = 4
/** … and none is larger than this, in nepers. */
const LARGEST_CHANGE = 1.4

/**
 * Windows one after the other whose speeds follow each other steadily, such that at each moment what explains its
 * surroundings best counts: the sum of ln likelihood times length is the largest. Long windows win where the speed
 * stands, short ones where it changes; octaves and other rivals are paths of their own. Empty where no window shows a
 * comb.
 */
export function windowPath(windows: readonly SteadyWindow[]): PathWindow[] {
  const nodes = windows
    .flatMap(({ start, end, candidates, isClear }) =>
      candidates.map(({ turnsPerVoltSec, total, levels }, c) => ({
        fit: levels[0]!.fit!,
        isClear: isClear && c === 0,
        start,
        end,
        turnsPerSec: turnsPerVoltSec,
        // What another explanation of the same window is ahead by counts against it.
        total: total - (candidates[0]!.total - total),
      })),
    )
    .filter(({ total }) => total > 0)
    .sort((a, b) => a.end - b.end)
  const sums = new Float64Array(nodes.length)
  const before = new Int32Array(nodes.length).fill(-1)
  for (const [k, node] of nodes.entries()) {
    let most = 0
    for (let j = 0; j < k; j++) {
      const sum = sums[j]! - costOf(nodes[j]!, node)
      if (sum > most) {
        most = sum
        before[k] = j
      }
    }
    sums[k] = most + node.total * lengthOf(node)
  }
  const path: PathWindow[] = []
  let at = sums.reduce((top, sum, k) => (top < 0 || sum > sums[top]! ? k : top), -1)
  while (at >= 0) {
    path.unshift(nodes[at]!)
    at = before[at]!
  }
  return path
}

const lengthOf = ({ start, end }: PathWindow) => end - start

/** Infinite where one cannot follow the other. */
function costOf(a: PathWindow, b: PathWindow): number {
  const shorter = Math.min(lengthOf(a), lengthOf(b))
  const gap = b.start - a.end
  if (gap < 0 || gap > shorter) return Number.POSITIVE_INFINITY
  const change = Math.abs(Math.log(b.turnsPerSec / a.turnsPerSec))
  if (change > LARGEST_CHANGE) return Number.POSITIVE_INFINITY
  const isSure = a.isClear && b.isClear && haveLikeLines(a.fit, b.fit)
  if (change > 2 * STANDING_SHARE && !isSure) return Number.POSITIVE_INFINITY
  const moving = Math.min(CHANGE_COST, 0.5 * (change / STANDING_SHARE) ** 2)
  return (moving + COST_A_NEPER * change) * shorter
}
