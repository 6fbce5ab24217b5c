import type { ControlChart } from '../../quality/control-chart.ts'
import type { RuleHit } from '../../quality/run-rules.ts'
import { type Drawing, lineMark, type Mark, textMark } from '../drawing.ts'
import { AXIS_WIDTH, levelLine, valueAxis, valueScale } from './plot-frame.ts'
import { verdictMarks } from './verdict-mark.ts'

const NAME_WIDTH = 52

export const CHART_WORDS: Readonly<Record<ControlChart['name'], string>> = {
  individuals: 'Individuals',
  'moving-range': 'Moving range',
  mean: 'Means of subgroups',
  range: 'Ranges of subgroups',
  ewma: 'Exponentially weighted moving average',
}

/** Points in their order between the control limits; a point that completes a run rule is a cross. */
export function controlChartPicture(
  chart: ControlChart,
  hits: readonly RuleHit[],
  unit: string,
  width: number,
  height: number,
): Drawing {
  const left = AXIS_WIDTH
  const right = width - NAME_WIDTH
  const lower = chart.lower[0]!
  const upper = chart.upper[0]!
  const scale = valueScale([...chart.points, lower, upper], height - 14, 6)
  const x = (index: number) =>
    chart.points.length === 1
      ? (left + right) / 2
      : left + 8 + ((right - left - 16) * index) / (chart.points.length - 1)
  const flagged = new Set(hits.map(hit => hit.at))
  const marks: Mark[] = [
    ...valueAxis(scale, unit, left, right),
    ...levelLine(scale.at(upper), left, right, 'upper limit', { dash: [4, 3] }),
    ...levelLine(scale.at(lower), left, right, 'lower limit', { dash: [4, 3] }),
    ...levelLine(scale.at(chart.centre), left, right, 'mean', { width: 0.6 }),
    lineMark(
      chart.points.map((point, i) => [x(i), scale.at(point)]),
      { ink: 'voltage', width: 0.9 },
    ),
    ...chart.points.flatMap((point, i) =>
      flagged.has(i)
        ? verdictMarks(x(i), scale.at(point), 3, 'fail')
        : verdictMarks(x(i), scale.at(point), 1.7, 'pass'),
    ),
    textMark(left, height - 3, '1', { size: 7, ink: 'quiet' }),
    textMark(right, height - 3, String(chart.points.length), {
      size: 7,
      ink: 'quiet',
      anchor: 'end',
    }),
  ]
  return { width, height, marks }
}
