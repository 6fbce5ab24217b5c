import { combsOf } from './comb-hypotheses.ts'
import type { EmfCourse, EmfPiece } from './emf-course.ts'
import type { RippleSettings } from './ripple-settings.ts'
import { steadyWindows } from './steady-windows.ts'
import { type PathWindow, windowPath } from './window-path.ts'

/**
 * A record without a voltage, with the speed that its lines tell in place of the back-EMF, to which that is proportional: relative
 * to the longest window's, 0 where nothing tells it. Only how it rises and falls counts; which of the combs that do so is
 * the shaft's is asked once more of all of them. Null where no part of the record shows a comb.
 */
export function courseByLines(course: EmfCourse, settings: RippleSettings): EmfCourse | null {
  const path = windowPath(steadyWindows(course, combsOf(settings)))
  if (path.length === 0) return null
  const longest = path.reduce((top, window) => (lengthOf(window) > lengthOf(top) ? window : top))
  const relative = path.map(window => ({
    ...window,
    turnsPerSec: window.turnsPerSec / longest.turnsPerSec,
  }))
  return {
    ...course,
    emfFrom: 'lines',
    resistanceOhm: null,
    pieces: course.pieces.map(piece => ({ ...piece, emf: speedAlong(relative, piece) })),
  }
}

const lengthOf = ({ start, end }: PathWindow) => end - start

/** Within a window the speed stands, but near its ends it changes over to that of the next one. */
function speedAlong(path: readonly PathWindow[], { start, end }: EmfPiece): Float64Array {
  const speed = new Float64Array(end - start)
  const inside = path.filter(window => window.start >= start && window.end <= end)
  const fill = (from: number, to: number, first: number, last: number) => {
    const [a, b] = [Math.round(from), Math.round(to)]
    for (let i = a; i < b; i++) {
      speed[i - start] = first * (last / first) ** ((i + 0.5 - a) / (b - a))
    }
  }
  for (const [k, window] of inside.entries()) {
    const [before, after] = [inside[k - 1], inside[k + 1]]
    const from = window.start + marginOf(before, window)
    const to = window.end - marginOf(window, after)
    fill(from, to, window.turnsPerSec, window.turnsPerSec)
    if (after === undefined) continue
    // A step ends a stretch.
    if (!changesOver(window, after)) speed[window.end - 1 - start] = 0
    else fill(to, after.start + marginOf(window, after), window.turnsPerSec, after.turnsPerSec)
  }
  return speed
}

/** A change of the speed by more than this, in nepers, is a step, of which no course is told … */
const LARGEST_GRADUAL = 0.26
/** … and so is a lesser one across a gap of this part of a window. */
const LARGEST_ACROSS = 0.02
const LONGEST_GAP = 0.25

function changesOver(a: PathWindow, b: PathWindow | undefined): b is PathWindow {
  if (b === undefined) return false
  const isApart = b.start - a.end > LONGEST_GAP * Math.min(lengthOf(a), lengthOf(b))
  const change = Math.abs(Math.log(b.turnsPerSec / a.turnsPerSec))
  return change < (isApart ? LARGEST_ACROSS : LARGEST_GRADUAL)
}

const marginOf = (a: PathWindow | undefined, b: PathWindow | undefined) =>
  a !== undefined && changesOver(a, b) ? Math.min(lengthOf(a), lengthOf(b)) / 2 : 0
