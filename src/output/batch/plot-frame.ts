import { scaleLinear } from 'd3-scale'
import { quantityText } from '../../base/quantity-text.ts'
import { type Ink, lineMark, type Mark, textMark } from '../drawing.ts'

/** Room left of a plot for the numbers of its axis. */
export const AXIS_WIDTH = 58

export interface ValueScale {
  readonly at: (value: number) => number
  readonly low: number
  readonly high: number
  readonly ticks: readonly number[]
}

/** Values from the bottom `from` to the top `to` of a picture, with a little air at both ends. */
export function valueScale(values: readonly number[], from: number, to: number): ValueScale {
  const low = Math.min(...values)
  const high = Math.max(...values)
  const air = 0.08 * (high - low || Math.abs(high) || 1)
  const scale = scaleLinear([low - air, high + air], [from, to])
  return { at: value => scale(value), low: low - air, high: high + air, ticks: scale.ticks(4) }
}

/** Numbers and faint lines of a vertical axis. */
export function valueAxis(scale: ValueScale, unit: string, left: number, right: number): Mark[] {
  return scale.ticks.flatMap(tick => {
    const y = scale.at(tick)
    return [
      lineMark(
        [
          [left, y],
          [right, y],
        ],
        { ink: 'faint', width: 0.5 },
      ),
      textMark(left - 5, y + 2.6, quantityText(tick, unit).text, {
        size: 7,
        ink: 'quiet',
        anchor: 'end',
      }),
    ]
  })
}

/** A line across with its name at the right end. */
export function levelLine(
  y: number,
  left: number,
  right: number,
  name: string,
  options: { ink?: Ink; dash?: readonly number[]; width?: number } = {},
): Mark[] {
  const { ink = 'quiet', dash = [], width = 0.9 } = options
  return [
    lineMark(
      [
        [left, y],
        [right, y],
      ],
      { ink, dash, width },
    ),
    textMark(right + 4, y + 2.5, name, { size: 7, ink }),
  ]
}
