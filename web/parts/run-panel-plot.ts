import type uPlot from 'uplot'
import { printedScale } from '../../src/base/quantity-text.ts'
import type { PhaseView, SeriesView } from '../../src/contract/http-runs.ts'
import { SHOWN } from '../display.ts'
import { axis, colour } from './chart.tsx'
import { drawCursors, drawExcluded, drawPhases } from './run-marks.ts'
import type { Panel } from './run-panel-data.ts'

export interface RunPanelsProps {
  readonly series: SeriesView
  readonly phases: readonly PhaseView[]
  readonly excluded: readonly { fromSec: number; toSec: number }[]
  readonly cursors: { readonly a: number | null; readonly b: number | null }
  /** Seconds along the axis, or row numbers. */
  readonly window: { readonly from: number; readonly to: number }
  readonly isSteady: boolean
  onWindow(window: { from: number; to: number }, kind: 'chosen' | 'moving'): void
  onPoint(x: number, second: boolean): void
  onHover(x: number | null): void
}

/** The panel on which the mouse button went down. */
let pressed: uPlot | null = null

type Latest = { readonly current: RunPanelsProps }

/** How uPlot draws a panel, and what it tells back. */
export function plotOptions(
  panel: Panel,
  isFirst: boolean,
  isLast: boolean,
  latest: Latest,
  onIndex: (index: number | null) => void,
): Omit<uPlot.Options, 'width' | 'height'> {
  const token = SHOWN[panel.quantity].colour
  const isResidual = panel.kind === 'residual'
  const ink = () => colour(token)
  const isUnder = panel.data.length > 3
  const edge: uPlot.Series = {
    // Under a fitted line the measured one is broad and pale: both are seen where they agree.
    stroke: isUnder ? () => `${colour(token)}a6` : ink,
    width: isResidual ? 1 : isUnder ? 3.6 : 1.4,
    points: { show: latest.current.isSteady },
    spanGaps: false,
  }
  return {
    legend: { show: false },
    padding: [8, 16, 0, 0],
    cursor: {
      y: false,
      sync: { key: 'run', scales: ['x', null], setSeries: false },
      drag: { x: true, y: false, setScale: false },
      points: { show: false },
    },
    scales: {
      x: { time: false, range: () => [latest.current.window.from, latest.current.window.to] },
      y: isResidual ? { range: symmetric } : {},
    },
    axes: [
      axis({
        size: isLast ? 44 : 8,
        ...(isLast
          ? { label: latest.current.isSteady ? 'row' : timeAxisLabel(), labelSize: 20 }
          : { values: () => [] }),
      }),
      axis({ size: 68, space: isResidual ? 26 : 34 }),
    ],
    series: [
      {},
      edge,
      edge,
      ...(panel.data.length > 3
        ? [{ stroke: () => colour('--fitted'), width: 1.3, points: { show: false } }]
        : []),
    ],
    bands: [{ series: [2, 1], fill: () => `${colour(token)}66` }],
    hooks: {
      drawClear: [plot => drawPhases(plot, latest.current.phases, isFirst)],
      draw: [
        plot => drawExcluded(plot, latest.current.excluded),
        plot => drawCursors(plot, latest.current.cursors),
      ],
      setCursor: [plot => onIndex(plot.cursor.left! < 0 ? null : (plot.cursor.idx ?? null))],
      setSelect: [
        plot => {
          // Selections are shown on every panel; the one under the hand counts.
          if (plot !== pressed || plot.select.width < 6) return
          const from = plot.posToVal(plot.select.left, 'x')
          const to = plot.posToVal(plot.select.left + plot.select.width, 'x')
          plot.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false)
          latest.current.onWindow({ from, to }, 'chosen')
        },
      ],
    },
  }
}

const timeAxisLabel = () => `time from the start of the run, ${printedScale(1, 's').unit}`

/** About zero, so that a lasting difference shows. */
function symmetric(_plot: uPlot, low: number | null, high: number | null): [number, number] {
  const most = Math.max(Math.abs(low ?? 0), Math.abs(high ?? 0)) || 1
  return [-1.1 * most, 1.1 * most]
}

/** Wheel, drag along and clicks on a panel. */
export function listenToPointer(plot: uPlot, latest: Latest): void {
  plot.over.addEventListener('wheel', event => {
    event.preventDefault()
    const { window } = latest.current
    const span = window.to - window.from
    if (event.shiftKey || Math.abs(event.deltaX) > Math.abs(event.deltaY)) {
      const by = (span * (event.deltaX || event.deltaY)) / Math.max(1, plot.over.clientWidth)
      latest.current.onWindow({ from: window.from + by, to: window.to + by }, 'moving')
      return
    }
    const at = plot.posToVal(event.offsetX, 'x')
    const zoom = Math.exp(Math.max(-1, Math.min(1, event.deltaY / 300)))
    latest.current.onWindow(
      { from: at - (at - window.from) * zoom, to: at + (window.to - at) * zoom },
      'moving',
    )
  })
  let pressedAt = -1
  plot.over.addEventListener('mousedown', event => {
    pressedAt = event.offsetX
    pressed = plot
  })
  plot.over.addEventListener('click', event => {
    // The end of a drag is no click.
    if (Math.abs(event.offsetX - pressedAt) > 4) return
    latest.current.onPoint(plot.posToVal(event.offsetX, 'x'), event.shiftKey)
  })
}
