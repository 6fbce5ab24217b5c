import { type Drawing, type Ink, lineMark, type Point, textMark } from './drawing.ts'
import { type FittedMotor, quadrantTorques } from './motor-curves.ts'
import { torqueSpeedAxes } from './torque-speed-axes.ts'

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
  const axes = torqueSpeedAxes([-top, top], [-most, most], size)
  const curves = drives.flatMap((drive, index) => {
    const points = speeds.map((speed, i): Point => [axes.x(speed), axes.y(torques[index]![i]!)])
    // Written near the left end, where the curves are far apart.
    const at = points[Math.round(STEPS * (0.06 + 0.05 * index))]!
    return [
      lineMark(points, { ink: drive.ink, width: 1.7, dash: drive.dash }),
      textMark(at[0] + 6, at[1] - 6, drive.label, { size: 8.6, bold: true, ink: drive.ink }),
    ]
  })
  return { ...size, marks: [...axes.marks, ...curves] }
}
