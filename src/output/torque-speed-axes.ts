import { RPM_PER_RAD_PER_SEC } from '../base/units.ts'
import { scaleLinear } from 'd3-scale'
import { printedScale } from '../base/quantity-text.ts'
import { lineMark, type Mark, textMark } from './drawing.ts'

const ROOM = { left: 52, right: 16, top: 14, bottom: 34 } as const

export interface TorqueSpeedAxes {
  /** From rad/s and N·m to points on the paper. */
  readonly x: (radPerSec: number) => number
  readonly y: (torqueNm: number) => number
  readonly marks: readonly Mark[]
  readonly left: number
  readonly right: number
  readonly top: number
  readonly bottom: number
}

/** Axes of shaft torque over speed, both through zero. */
export function torqueSpeedAxes(
  speeds: readonly [number, number],
  torques: readonly [number, number],
  size: { readonly width: number; readonly height: number },
): TorqueSpeedAxes {
  const scale = printedScale(Math.max(...torques.map(Math.abs)), 'N m')
  const x = scaleLinear()
    .domain(speeds.map(speed => speed * RPM_PER_RAD_PER_SEC))
    .range([ROOM.left, size.width - ROOM.right])
  const y = scaleLinear()
    .domain(torques.map(torque => torque / scale.factor))
    .nice(6)
    .range([size.height - ROOM.bottom, ROOM.top])
  return {
    x: speed => x(speed * RPM_PER_RAD_PER_SEC),
    y: torque => y(torque / scale.factor),
    marks: grid(x, y, size, scale.unit),
    left: ROOM.left,
    right: size.width - ROOM.right,
    top: ROOM.top,
    bottom: size.height - ROOM.bottom,
  }
}

type Scale = ReturnType<typeof scaleLinear<number, number>>

function grid(x: Scale, y: Scale, size: { width: number; height: number }, unit: string): Mark[] {
  const [left, right] = [ROOM.left, size.width - ROOM.right]
  const [top, bottom] = [ROOM.top, size.height - ROOM.bottom]
  const plain = (value: number) => String(Number(value.toPrecision(6))).replace('-', '−')
  const across = (at: number, zero: boolean) =>
    lineMark(
      [
        [left, at],
        [right, at],
      ],
      zero ? { ink: 'ink', width: 1 } : {},
    )
  const down = (at: number, zero: boolean) =>
    lineMark(
      [
        [at, top],
        [at, bottom],
      ],
      zero ? { ink: 'ink', width: 1 } : {},
    )
  return [
    ...y.ticks(6).flatMap(value => [
      across(y(value), value === 0),
      textMark(left - 6, y(value) + 2.8, plain(value), {
        size: 7.8,
        ink: 'quiet',
        anchor: 'end',
      }),
    ]),
    ...x.ticks(8).flatMap(value => [
      down(x(value), value === 0),
      textMark(x(value), bottom + 12, plain(value), {
        size: 7.8,
        ink: 'quiet',
        anchor: 'middle',
      }),
    ]),
    textMark(right, bottom + 26, 'Speed, rpm', { size: 8.2, ink: 'quiet', anchor: 'end' }),
    textMark(left, top - 3, `Shaft torque, ${unit}`, { size: 8.2, ink: 'quiet' }),
  ]
}
