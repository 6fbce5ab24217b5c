import { useMemo } from 'preact/hooks'
import type uPlot from 'uplot'
import type { HeatDocument } from '../../src/contract/heat-document.ts'
import { axis, Chart, colour } from './chart.tsx'

/** From here on the axis is in minutes. */
const LONG_SEC = 600
const HEIGHT = 230

/** The run as read from the resistance and as the model has it: ohms above, degrees below. */
export function HeatCourse({ course }: { course: HeatDocument['course'] }) {
  const last = course.timeSec.at(-1) ?? 0
  const [per, unit] = last >= LONG_SEC ? [60, 'min'] : [1, 's']
  const time = useMemo(() => course.timeSec.map(sec => sec / per), [course, per])
  const ohm = useMemo(
    (): uPlot.AlignedData => [time, course.windingOhm, course.fittedWindingOhm],
    [time, course],
  )
  const celsius = useMemo(
    (): uPlot.AlignedData => [
      time,
      course.windingCelsius,
      course.fittedWindingCelsius,
      course.fittedHousingCelsius,
    ],
    [time, course],
  )
  return (
    <section class="plate stack" aria-label="Course of the run">
      <h2>Course of the run</h2>
      <div>
        <p class="label">Resistance, Ω</p>
        <Chart
          options={() => optionsOf('--current', null)}
          data={ohm}
          height={HEIGHT}
          shape="ohm"
          label={`Resistance of the winding over time: ${time.length} readings and the fitted course`}
        />
      </div>
      <div>
        <p class="label">Temperature, °C</p>
        <Chart
          options={() => optionsOf('--temperature', `time from the start of the run, ${unit}`)}
          data={celsius}
          height={HEIGHT + 30}
          shape={`celsius ${unit}`}
          label={`Temperature over time: winding as read and as fitted, and housing as fitted`}
        />
      </div>
      <p class="quiet small">
        Dots: read from the resistance, brush drop taken off. Line: the two-mass model. Dashed: its
        housing, which no reading shows by itself.
      </p>
    </section>
  )
}

function optionsOf(
  token: string,
  timeLabel: string | null,
): Omit<uPlot.Options, 'width' | 'height'> {
  return {
    legend: { show: false },
    padding: [8, 16, 0, 0],
    cursor: { show: false },
    scales: { x: { time: false } },
    axes: [
      axis(timeLabel === null ? { size: 30 } : { size: 44, label: timeLabel, labelSize: 20 }),
      axis({ size: 68 }),
    ],
    series: [
      {},
      {
        paths: () => null,
        points: {
          show: true,
          size: 6,
          width: 1.4,
          stroke: () => colour(token),
          fill: () => colour('--plate'),
        },
      },
      { stroke: () => colour('--fitted'), width: 1.6, points: { show: false } },
      ...(timeLabel === null
        ? []
        : [
            {
              stroke: () => colour('--ambient'),
              width: 1.6,
              dash: [6, 4],
              points: { show: false },
            },
          ]),
    ],
  }
}
