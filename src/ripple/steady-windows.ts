import { octaveSpectrum } from '../numerics/spectrum/octave-spectrum.ts'
import { LEAST_ALONE, leadOf } from './comb-lead.ts'
import type { CombSettings } from './comb-settings.ts'
import type { EmfCourse, EmfPiece } from './emf-course.ts'
import { type CombCandidate, findCombs } from './find-comb.ts'
import { areMissing, areSwitching } from './line-doubts.ts'
import { listPeaks, type PeakList } from './peaks.ts'
import { carriersOf, removeSwitching } from './pwm-waveform.ts'

/** A part of the record, as if the speed stood within it: samples of the run, and what may turn there. */
export interface SteadyWindow {
  readonly start: number
  readonly end: number
  /** In falling order; turns a second at one volt are turns a second here. */
  readonly candidates: readonly CombCandidate[]
  /** Whether the first of them leads every other one beyond doubt. */
  readonly isClear: boolean
  readonly list: PeakList
}

/** Long windows show finer lines, short ones follow the speed: parts of the record that are tried in turn. */
const PARTS = [1, 2, 3, 6, 12, 24] as const
const SHORTEST_WINDOW = 512
/** Shorter windows are not tried once they tell less than this part of what the best did, these at any rate. */
const WORTH_SHORTENING = 0.8
const ALWAYS_TRIED = 6
const ANY_RATE = { lowest: 0, highest: Number.POSITIVE_INFINITY }
/** There are many windows, and what they tell is looked at once more. */
const EFFORT = { mostTried: 16, mostRefined: 5 }
/** Of a window's candidates, so many are kept. */
const MOST_KEPT = 6

/**
 * All windows of a record with the combs that each shows, but for those of which the lines are the switching's, or are missing in a
 * part of the window: what turned as fast did not do so throughout.
 */
export function steadyWindows(course: EmfCourse, combs: readonly CombSettings[]): SteadyWindow[] {
  const total = samplesIn(course)
  const windows: SteadyWindow[] = []
  let best = 0
  for (const parts of PARTS) {
    const length = Math.floor(total / parts)
    if (parts > 1 && length < SHORTEST_WINDOW) break
    const found = windowsOf(course, combs, length)
    // Of a piece shorter than that its whole was tried before.
    windows.push(...found.filter(one => !windows.some(other => isSame(one, other))))
    const told = toldBy(found)
    if (parts >= ALWAYS_TRIED && told < WORTH_SHORTENING * best) break
    best = Math.max(best, told)
  }
  const switching = course.pieces.find(piece => piece.switching !== null)?.switching ?? null
  return windows.map(window => {
    const parts = windows.filter(part => isPart(part, window))
    const candidates = window.candidates.filter(({ turnsPerVoltSec, levels }) => {
      if (isOutvoted(turnsPerVoltSec, parts)) return false
      const seen = levels[0]!.fit!.lines.filter(({ peak }) => peak !== null)
      return !areSwitching(seen, switching) && parts.every(part => !areMissing(seen, part.list))
    })
    return {
      ...window,
      candidates,
      isClear: window.isClear && candidates[0] === window.candidates[0],
    }
  })
}

/** Speeds within this share are the same one. */
const SAME_SPEED = 0.02

/** Whether more of the parts that leave no doubt tell another speed than tell this one. */
function isOutvoted(turnsPerSec: number, parts: readonly SteadyWindow[]): boolean {
  const clear = parts.filter(({ isClear }) => isClear)
  const alike = clear.filter(
    ({ candidates }) => Math.abs(candidates[0]!.turnsPerVoltSec / turnsPerSec - 1) < SAME_SPEED,
  )
  return 2 * alike.length < clear.length
}

const isSame = (a: SteadyWindow, b: SteadyWindow) => a.start === b.start && a.end === b.end

const isPart = (part: SteadyWindow, whole: SteadyWindow) =>
  part.start >= whole.start &&
  part.end <= whole.end &&
  part.end - part.start < whole.end - whole.start

const samplesIn = ({ pieces }: EmfCourse) => pieces.reduce((sum, { raw }) => sum + raw.length, 0)

/** Mean likelihood of what each window shows best. */
function toldBy(windows: readonly SteadyWindow[]): number {
  const tops = windows.map(({ candidates }) => Math.max(0, candidates[0]?.total ?? 0))
  return tops.reduce((sum, top) => sum + top, 0) / Math.max(1, tops.length)
}

function windowsOf(
  course: EmfCourse,
  combs: readonly CombSettings[],
  length: number,
): SteadyWindow[] {
  return course.pieces.flatMap(piece => {
    const size = Math.min(length, piece.raw.length)
    if (size < SHORTEST_WINDOW && size < length) return []
    const count = Math.floor((2 * piece.raw.length) / size) - 1
    return Array.from({ length: count }, (_, k): SteadyWindow => {
      // The last one ends where the piece does.
      const from = Math.round((k * (piece.raw.length - size)) / Math.max(1, count - 1))
      const start = piece.start + from
      return { start, end: start + size, ...linesIn(piece, from, size, course, combs) }
    })
  })
}

function linesIn(
  { raw, switching }: EmfPiece,
  from: number,
  length: number,
  course: EmfCourse,
  combs: readonly CombSettings[],
): Pick<SteadyWindow, 'candidates' | 'isClear' | 'list'> {
  const { rateHz, apertureSec } = course
  const part = raw.subarray(from, from + length)
  const clean = switching === null ? part : removeSwitching(part, switching)
  const level = {
    spectrum: octaveSpectrum([clean], rateHz),
    emfVolt: 1,
    // The window may be short, but not what was recorded.
    durationSec: samplesIn(course) / rateHz,
    scale: null,
    lags: true,
    sampling: { rateHz, apertureSec },
    switching,
    carriers: switching === null ? [] : carriersOf(part, switching),
  }
  const found = findCombs([level], combs, ANY_RATE, [], EFFORT)
  const [best] = found
  const isClear =
    best !== undefined &&
    best.total > LEAST_ALONE.total &&
    leadOf(best, found, LEAST_ALONE).rival === null
  return {
    isClear,
    candidates: found.slice(0, MOST_KEPT),
    list: listPeaks(level.spectrum, switching),
  }
}
