import { quantityText } from '../../base/quantity-text.ts'
import type { Verdict } from '../../quality/conformity.ts'
import type { ToleranceBand } from '../../quality/conformity.ts'
import { areaMark, boxPoints, type Drawing, lineMark, type Mark, textMark } from '../drawing.ts'
import { verdictMarks } from './verdict-mark.ts'

export interface ToleranceValue {
  readonly value: number
  /** Null where it is not known. */
  readonly standardUncertainty: number | null
  readonly verdict: Verdict
}

const MOST_CLASSES = 12

/**
 * Where the values of a batch lie: their histogram (classes by the square root of their number) above, each
 * value by its verdict below, the tolerance shaded.
 */
export function tolerancePicture(
  values: readonly ToleranceValue[],
  band: ToleranceBand,
  unit: string,
  width: number,
  height: number,
): Drawing {
  const numbers = values.map(each => each.value)
  const ends = [...numbers, ...[band.lower, band.upper].filter(end => end !== null)]
  const low = Math.min(...ends)
  const high = Math.max(...ends)
  const span = high - low || Math.abs(high) || 1
  const x = (value: number) => 10 + ((width - 20) * (value - low + 0.1 * span)) / (1.2 * span)
  const base = height - 34
  const marks: Mark[] = []
  const from = band.lower === null ? 10 : x(band.lower)
  const to = band.upper === null ? width - 10 : x(band.upper)
  marks.push(areaMark(boxPoints(from, 4, to - from, base + 14), 'speed', 0.1))
  marks.push(...bars(numbers, x, base))
  for (const [name, end] of [
    ['lower limit', band.lower],
    ['upper limit', band.upper],
  ] as const) {
    if (end === null) continue
    const anchor = name === 'lower limit' ? 'end' : 'start'
    const beside = x(end) + (anchor === 'end' ? -3 : 3)
    marks.push(
      lineMark(
        [
          [x(end), 4],
          [x(end), base + 18],
        ],
        { ink: 'ink', width: 1, dash: [4, 2] },
      ),
      textMark(
        Math.max(52, Math.min(width - 52, beside)),
        base + 29,
        `${name} ${quantityText(end, unit).text}`,
        {
          size: 7,
          ink: 'quiet',
          anchor: 'middle',
        },
      ),
    )
  }
  for (const { value, standardUncertainty, verdict } of values) {
    const y = base + 10
    if (standardUncertainty) {
      const reach = 2 * standardUncertainty
      marks.push(
        lineMark(
          [
            [x(value - reach), y],
            [x(value + reach), y],
          ],
          { ink: 'quiet', width: 0.4 },
        ),
      )
    }
    marks.push(...verdictMarks(x(value), y, 2.4, verdict))
  }
  return { width, height, marks }
}

function bars(numbers: readonly number[], x: (value: number) => number, base: number): Mark[] {
  const low = Math.min(...numbers)
  const high = Math.max(...numbers)
  if (numbers.length < 4 || !(high > low)) return []
  const classes = Math.min(MOST_CLASSES, Math.ceil(Math.sqrt(numbers.length)))
  const counts = Array.from({ length: classes }, () => 0)
  for (const number of numbers) {
    const index = Math.floor(((number - low) / (high - low)) * classes)
    counts[Math.min(classes - 1, index)]!++
  }
  const most = Math.max(...counts)
  return counts.flatMap((count, i) => {
    if (count === 0) return []
    const left = x(low + ((high - low) * i) / classes)
    const right = x(low + ((high - low) * (i + 1)) / classes)
    const top = base - ((base - 8) * count) / most
    return [
      areaMark(boxPoints(left, top, Math.max(1, right - left - 1), base - top), 'voltage', 0.55),
    ]
  })
}
