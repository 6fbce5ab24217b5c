import { RPM_PER_RAD_PER_SEC } from '../base/units.ts'
import { scaleLinear } from 'd3-scale'
import { printedScale } from '../base/quantity-text.ts'
import {
  areaMark,
  type Drawing,
  type Ink,
  lineMark,
  type Mark,
  type Point,
  textMark,
} from './drawing.ts'
import type { CurveName, CurvePoint, Uncertain } from './motor-curves.ts'

/** Half width of a band drawn for a 95 % interval, in standard uncertainties (normal distribution). */
const BAND_SIGMAS = 1.96

const PANELS: readonly {
  readonly name: CurveName
  readonly title: string
  readonly unit: string
  readonly factor: number
  readonly ink: Ink
}[] = [
  { name: 'speed', title: 'Speed', unit: 'rpm', factor: RPM_PER_RAD_PER_SEC, ink: 'speed' },
  { name: 'current', title: 'Current', unit: 'A', factor: 1, ink: 'current' },
  { name: 'mechanicalPower', title: 'Shaft power', unit: 'W', factor: 1, ink: 'act' },
  { name: 'efficiency', title: 'Efficiency', unit: '%', factor: 100, ink: 'torque' },
]

/** Room around the axes of one panel, in points. */
const ROOM = { left: 44, right: 12, top: 20, bottom: 30 } as const

/** Speed, current, power and efficiency over the load torque, each with the band of its 95 % interval. */
export function curvePicture(
  points: readonly CurvePoint[],
  operating: CurvePoint | null,
  size: { readonly width: number; readonly height: number },
): Drawing {
  const most = points.at(-1)?.torqueNm ?? 0
  const torque = printedScale(most, 'N m')
  const width = size.width / 2
  const height = size.height / 2
  const marks = PANELS.flatMap((panel, index) => {
    const frame = {
      x: (index % 2) * width + ROOM.left,
      y: Math.floor(index / 2) * height + ROOM.top,
      width: width - ROOM.left - ROOM.right,
      height: height - ROOM.top - ROOM.bottom,
    }
    return panelMarks(panel, points, operating, torque, frame)
  })
  return { ...size, marks }
}

interface Frame {
  readonly x: number
  readonly y: number
  readonly width: number
  readonly height: number
}

function panelMarks(
  panel: (typeof PANELS)[number],
  points: readonly CurvePoint[],
  operating: CurvePoint | null,
  torque: { factor: number; unit: string },
  frame: Frame,
): Mark[] {
  const of = (point: CurvePoint): Uncertain | null => point[panel.name]
  const tops = points.flatMap(point => {
    const one = of(point)
    return one ? [(one.value + BAND_SIGMAS * one.standardUncertainty) * panel.factor] : []
  })
  const top = Math.max(...tops, 0) || 1
  const scale = printedScale(top, panel.unit)
  const x = scaleLinear()
    .domain([0, (points.at(-1)?.torqueNm ?? 1) / torque.factor])
    .range([frame.x, frame.x + frame.width])
  const y = scaleLinear()
    .domain([0, top / scale.factor])
    .nice(4)
    .range([frame.y + frame.height, frame.y])
  const at = (point: CurvePoint, sigmas: number): Point | null => {
    const one = of(point)
    if (!one) return null
    const value = ((one.value + sigmas * one.standardUncertainty) * panel.factor) / scale.factor
    return [x(point.torqueNm / torque.factor), Math.min(frame.y + frame.height, y(value))]
  }
  const along = (sigmas: number) =>
    points.map(point => at(point, sigmas)).filter(one => one !== null)
  const middle = along(0)
  return [
    ...axes(frame, x, y, `Load torque, ${torque.unit}`, `${panel.title}, ${scale.unit}`),
    areaMark([...along(BAND_SIGMAS), ...along(-BAND_SIGMAS).reverse()], panel.ink, 0.25),
    lineMark(middle, { ink: panel.ink, width: 1.6 }),
    ...(operating ? operatingMarks(at(operating, 0), frame, panel.ink) : []),
  ]
}

function axes(
  frame: Frame,
  x: ReturnType<typeof scaleLinear<number, number>>,
  y: ReturnType<typeof scaleLinear<number, number>>,
  below: string,
  title: string,
): Mark[] {
  const bottom = frame.y + frame.height
  const plain = (value: number) => String(Number(value.toPrecision(6))).replace('-', '−')
  return [
    textMark(frame.x, frame.y - 8, title, { size: 8.6, bold: true }),
    ...y.ticks(4).flatMap(value => [
      lineMark([
        [frame.x, y(value)],
        [frame.x + frame.width, y(value)],
      ]),
      textMark(frame.x - 5, y(value) + 2.6, plain(value), {
        size: 7.4,
        ink: 'quiet',
        anchor: 'end',
      }),
    ]),
    ...x.ticks(5).flatMap(value => [
      lineMark([
        [x(value), bottom],
        [x(value), bottom + 3],
      ]),
      textMark(x(value), bottom + 11, plain(value), { size: 7.4, ink: 'quiet', anchor: 'middle' }),
    ]),
    lineMark(
      [
        [frame.x, frame.y],
        [frame.x, bottom],
        [frame.x + frame.width, bottom],
      ],
      { ink: 'quiet' },
    ),
    textMark(frame.x + frame.width, bottom + 22, below, { size: 7.4, ink: 'quiet', anchor: 'end' }),
  ]
}

/** Where the load meets the curve: a line up from the axis and a diamond. */
function operatingMarks(point: Point | null, frame: Frame, ink: Ink): Mark[] {
  if (!point) return []
  const [x, y] = point
  const r = 4
  return [
    lineMark(
      [
        [x, frame.y + frame.height],
        [x, y],
      ],
      { ink: 'ink', width: 0.9, dash: [3, 2.5] },
    ),
    areaMark(
      [
        [x, y - r],
        [x + r, y],
        [x, y + r],
        [x - r, y],
      ],
      ink,
    ),
  ]
}
