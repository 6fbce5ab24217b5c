import type { Phase } from '../signals/phases.ts'
import type { RunSignals } from '../signals/run-signals.ts'
import { plainMean } from '../signals/steady-levels.ts'

/** Falls of i/v within one held voltage, as shares; common practice, no source. */
const FALL = { surely: 0.25, odd: 0.05 }
/** Share of the fall that is done by the middle of what is left of the pulse, if it is heat that causes it. */
const HEAT_BY_MIDDLE = { least: 0.25, most: 0.8 }
/** In a pulse shorter than this a winding warms at an even rate, in seconds. */
const EVEN_SEC = 1
const PIECES = 40
const FEWEST_SAMPLES = 3

/**
 * Did a rotor that should have been held give way in this pulse, with no speed channel to say so? The current rises,
 * then the back-EMF takes it down again. Heat does that too, but slowly (copper gains 0.39 % per kelvin: 25 % are
 * over 80 K), at a rate that does not grow, and in a short pulse evenly.
 */
export function slipsIn({ timeSec, voltage, current }: RunSignals, { start, end }: Phase): boolean {
  if (!timeSec || !voltage || !current) return false
  const length = Math.max(FEWEST_SAMPLES, Math.floor((end - start) / PIECES))
  const course: number[] = []
  for (let from = start; from + length <= end; from += length) {
    const volt = plainMean(voltage.values, from, from + length)
    const amp = plainMean(current.values, from, from + length)
    if (Math.abs(volt) > 0.02 * voltage.reach) course.push(amp / volt)
  }
  if (course.length < 8) return false
  const peak = Math.max(...course)
  const top = course.indexOf(peak)
  const late = course.at(-1)!
  const noise = current.noise / Math.sqrt(length) / Math.abs(plainMean(voltage.values, start, end))
  const fall = peak - late
  if (!(peak > 0 && fall > Math.max(8 * noise, FALL.odd * peak))) return false
  if (fall > FALL.surely * peak) return true
  const middle = course[Math.floor((top + course.length - 1) / 2)]!
  const done = (peak - middle) / fall
  const isShort = timeSec[end - 1]! - timeSec[start]! < EVEN_SEC
  return done < HEAT_BY_MIDDLE.least || (isShort && done > HEAT_BY_MIDDLE.most)
}
