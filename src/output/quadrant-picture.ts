import { scaleLinear } from 'd3-scale'
import { printedScale } from '../base/quantity-text.ts'
import { type Drawing, type Ink, lineMark, type Mark, type Point, textMark } from './drawing.ts'
import { type FittedMotor, quadrantTorques } from './motor-curves.ts'

const RPM_PER_RAD_PER_SEC = 60 / (2 * Math.PI)
const ROOM = { left: 52, right: 16, top: 14, bottom: 34 } as const
const STEPS = 120
/** Speeds shown, in parts of the voltage's own no-load speed. */
const REACH = 1.5

/** Torque over speed in all four quadrants: full voltage either way, and terminals short-circuited. */
export function quadrantPicture(
  motor: FittedMotor,
  volt: number,
  celsius: number,
  size: { readonly width: number; readonly height: number },
): Drawing {
  const top = (REACH * volt) / motor.values[1]!
  // An odd number of points, so that standstill is one of them.
  const speeds = Array.from({ length: STEPS + 1 }, (_, i) => top * ((2 * i) / STEPS - 1))
  const drives: readonly { volt: number; ink: Ink; label: string; dash: readonly number[] }[] = [
    { volt, ink: 'voltage', label: 'forward', dash: [] },
    { volt: 0, ink: 'torque', label: 'short-circuited', dash: [2, 2] },
    { volt: -volt, ink: 'current', label: 'backward', dash: [6, 3] },
  ]
  const torques = quadrantTorques(
    motor,
    drives.map(drive => drive.volt),
    celsius,
    speeds,
  )
  const most = Math.max(...torques.flat().map(Math.abs))
  const scale = printedScale(most, 'N m')
  const x = scaleLinear()
    .domain([-top * RPM_PER_RAD_PER_SEC, top * RPM_PER_RAD_PER_SEC])
    .range([ROOM.left, size.width - ROOM.right])
  const y = scaleLinear()
    .domain([-most / scale.factor, most / scale.factor])
    .nice(6)
    .range([size.height - ROOM.bottom, ROOM.top])
  const curves = drives.flatMap((drive, index) => {
    const points = speeds.map(
      (speed, i): Point => [x(speed * RPM_PER_RAD_PER_SEC), y(torques[index]![i]! / scale.factor)],
    )
    // Written near the left end, where the curves are far apart.
    const at = points[Math.round(STEPS * (0.06 + 0.05 * index))]!
    return [
      lineMark(points, { ink: drive.ink, width: 1.7, dash: drive.dash }),
      textMark(at[0] + 6, at[1] - 6, drive.label, { size: 8.6, bold: true, ink: drive.ink }),
    ]
  })
  return { ...size, marks: [...grid(x, y, size, scale.unit), ...curves] }
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
