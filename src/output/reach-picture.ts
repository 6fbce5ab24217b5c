import type { OperatingPoint } from '../contract/withstand-document.ts'
import type { ReachedTorque } from '../drive/reach.ts'
import {
  areaMark,
  boxPoints,
  type Drawing,
  lineMark,
  type Mark,
  type Point,
  textMark,
} from './drawing.ts'
import { type TorqueSpeedAxes, torqueSpeedAxes } from './torque-speed-axes.ts'

export interface Reach {
  readonly strong: readonly ReachedTorque[]
  readonly weak: readonly ReachedTorque[]
}

const NAMES: Readonly<Record<OperatingPoint['action'], string>> = {
  drive: 'drives',
  'hold-back': 'holds back',
  brake: 'brakes',
}

/**
 * What a drive reaches in the plane of torque and speed: filled with the highest supply and a cold winding, dashed
 * line with the lowest and a hot one, operating points as marks (full and hollow).
 */
export function reachPicture(
  { strong, weak }: Reach,
  points: readonly OperatingPoint[],
  size: { readonly width: number; readonly height: number },
): Drawing {
  const all = [...strong, ...weak]
  const speeds = all.map(one => one.speedRadPerSec)
  const torques = all.flatMap(one => [one.mostNm, one.leastNm])
  const axes = torqueSpeedAxes(
    [Math.min(0, ...speeds), Math.max(0, ...speeds)],
    [Math.min(0, ...torques), Math.max(0, ...torques)],
    size,
  )
  const around = (reach: readonly ReachedTorque[]): Point[] => [
    ...reach.map((one): Point => [axes.x(one.speedRadPerSec), axes.y(one.mostNm)]),
    ...reach.map((one): Point => [axes.x(one.speedRadPerSec), axes.y(one.leastNm)]).reverse(),
  ]
  const closed = (outline: readonly Point[]) => [...outline, outline[0]!]
  return {
    ...size,
    marks: [
      areaMark(around(strong), 'act', 0.16),
      ...axes.marks,
      lineMark(closed(around(strong)), { ink: 'act', width: 1.6 }),
      lineMark(closed(around(weak)), { ink: 'torque', width: 1.4, dash: [5, 3] }),
      ...corners(axes),
      ...points.flatMap(point => pointMarks(point, axes)),
    ],
  }
}

/** Each quadrant says what happens there, beside the axis of standstill. */
function corners({ x, left, top, bottom }: TorqueSpeedAxes): Mark[] {
  const right = { size: 8.2, ink: 'quiet' } as const
  const leftOfAxis = { ...right, anchor: 'end' } as const
  const isBothWays = x(0) - left > 60
  return [
    textMark(x(0) + 6, top + 28, 'drives forward', right),
    textMark(x(0) + 6, bottom - 24, 'brakes, turning forward', right),
    ...(isBothWays
      ? [
          textMark(x(0) - 6, top + 28, 'brakes, turning backward', leftOfAxis),
          textMark(x(0) - 6, bottom - 24, 'drives backward', leftOfAxis),
        ]
      : []),
  ]
}

function pointMarks(
  { values, supply, sense, action }: OperatingPoint,
  axes: TorqueSpeedAxes,
): Mark[] {
  if (!values) return []
  const [px, py] = [axes.x(values.speed.value), axes.y(values.torque.value)]
  const box = boxPoints(px - 3, py - 3, 6, 6)
  if (supply === 'weak') {
    return [areaMark(box, 'paper'), lineMark([...box, box[0]!], { ink: 'torque', width: 1.3 })]
  }
  const inward = { size: 8.4, bold: true, anchor: sense === 1 ? 'end' : 'start' } as const
  // The hardest braking lies on the edge of what is reached: its name stands inside.
  const off = action === 'brake' ? 11 * Math.sign(values.torque.value) : 0
  return [areaMark(box, 'act'), textMark(px - 7 * sense, py + 3 + off, NAMES[action], inward)]
}
