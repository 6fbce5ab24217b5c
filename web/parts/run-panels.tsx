import { useEffect, useMemo, useRef, useState } from 'preact/hooks'
import type uPlot from 'uplot'
import { printedScale, readingText } from '../../src/base/quantity-text.ts'
import type { PhaseView, SeriesView } from '../../src/contract/http-runs.ts'
import type { Quantity } from '../../src/records/quantity.ts'
import { channelScale, SHOWN } from '../display.ts'
import { axis, Chart, colour } from './chart.tsx'
import { drawCursors, drawExcluded, drawPhases } from './run-marks.ts'

const ORDER: readonly Quantity[] = [
  'voltage',
  'current',
  'speed',
  'position',
  'torque',
  'temperature',
  'ambient',
]
const PANEL_HEIGHT = 176
const RESIDUAL_HEIGHT = 104
/** The last panel carries the axis of all. */
const AXIS_HEIGHT = 38

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

type Column = (number | null)[]

interface Panel {
  readonly key: string
  readonly quantity: Quantity
  readonly kind: 'measured' | 'residual'
  readonly data: uPlot.AlignedData
  readonly unit: string
  readonly factor: number
  readonly rms: number | null
}

/** Every channel in a panel of its own over one axis: measured, fitted over it, their difference below. */
export function RunPanels(props: RunPanelsProps) {
  const panels = useMemo(() => makePanels(props.series), [props.series])
  const plots = useRef(new Map<string, uPlot>())
  const latest = useRef(props)
  latest.current = props
  const [hover, setHover] = useState<number | null>(null)

  useEffect(() => {
    for (const plot of plots.current.values()) {
      plot.setScale('x', { min: props.window.from, max: props.window.to })
    }
  }, [props.window.from, props.window.to])
  useEffect(() => {
    for (const plot of plots.current.values()) plot.redraw(false)
  }, [props.cursors, props.excluded])

  const ready = (key: string) => (plot: uPlot | null) => {
    if (!plot) {
      plots.current.delete(key)
      return
    }
    plots.current.set(key, plot)
    listenToPointer(plot, latest)
  }
  const onIndex = (index: number | null) => {
    setHover(index)
    latest.current.onHover(index === null ? null : (latest.current.series.x[index] ?? null))
  }
  return (
    <div>
      {panels.map((panel, place) => (
        <section key={panel.key} aria-label={words(panel)}>
          <PanelHead panel={panel} index={hover} />
          <Chart
            shape={`${panel.key}/${panel.unit}/${panel.data.length}/${place === panels.length - 1}/${props.isSteady}`}
            options={() =>
              plotOptions(panel, place === 0, place === panels.length - 1, latest, onIndex)
            }
            data={panel.data}
            height={
              (panel.kind === 'measured' ? PANEL_HEIGHT : RESIDUAL_HEIGHT) +
              (place === panels.length - 1 ? AXIS_HEIGHT : 0)
            }
            label={words(panel)}
            onReady={ready(panel.key)}
          />
        </section>
      ))}
    </div>
  )
}

function words({ quantity, kind, unit, data }: Panel): string {
  const name = SHOWN[quantity].label
  if (kind === 'residual') return `${name}, measured minus fitted, in ${unit}`
  return `${name} in ${unit}, measured${data.length > 3 ? ' and fitted' : ''}`
}

function PanelHead({ panel, index }: { panel: Panel; index: number | null }) {
  const { quantity, kind, unit, data, rms } = panel
  const at = (column: number) => {
    const value = index === null ? null : (data[column]?.[index] ?? null)
    return value === null ? '' : `${readingText(value, '', 5).text} ${unit}`
  }
  const ink = `var(${SHOWN[quantity].colour})`
  if (kind === 'residual') {
    const spread = rms === null ? null : rms * panel.factor
    return (
      <div class="panel-head small">
        <span class="quiet">
          measured − fitted, {unit}
          {spread !== null && `, r.m.s. ${readingText(spread, '', 2).text} ${unit}`}
        </span>
        <span class="value">{at(1)}</span>
      </div>
    )
  }
  return (
    <div class="panel-head">
      <h2>
        <span class="swatch" style={{ color: ink }} />
        {SHOWN[quantity].label}, {unit}
      </h2>
      <span class="value">{at(1)}</span>
      {data.length > 3 && (
        <>
          <span class="small" style={{ display: 'flex', alignItems: 'center', gap: '8px' }}>
            <span class="swatch" data-line="fitted" style={{ color: 'var(--fitted)' }} /> fitted
          </span>
          <span class="value small">{at(3)}</span>
        </>
      )}
    </div>
  )
}

function makePanels(series: SeriesView): Panel[] {
  const panels: Panel[] = []
  for (const quantity of ORDER) {
    const measured = series.measured.find(one => one.quantity === quantity)
    if (!measured) continue
    const { factor, unit } = channelScale(quantity, largest(measured.low, measured.high))
    const fitted = series.fitted.find(one => one.quantity === quantity)
    const scaled = (column: Column) => column.map(v => (v === null ? null : v * factor))
    panels.push({
      key: quantity,
      quantity,
      kind: 'measured',
      unit,
      factor,
      rms: null,
      data: [
        series.x,
        scaled(measured.low),
        scaled(measured.high),
        ...(fitted ? [scaled(fitted.mean)] : []),
      ],
    })
    const residual = series.residual.find(one => one.quantity === quantity)
    if (!residual) continue
    const own = residualScale(quantity, largest(residual.low, residual.high))
    const inOwn = (column: Column) => column.map(v => (v === null ? null : v * own.factor))
    panels.push({
      key: `${quantity}-residual`,
      quantity,
      kind: 'residual',
      unit: own.unit,
      factor: own.factor,
      rms: residual.rms,
      data: [series.x, inOwn(residual.low), inOwn(residual.high)],
    })
  }
  return panels
}

const residualScale = (quantity: Quantity, size: number) => channelScale(quantity, size)

const largest = (low: Column, high: Column): number => {
  let most = 0
  for (const column of [low, high]) {
    for (const value of column) if (value !== null && Math.abs(value) > most) most = Math.abs(value)
  }
  return most
}

/** The panel on which the mouse button went down. */
let pressed: uPlot | null = null

type Latest = { readonly current: RunPanelsProps }

function plotOptions(
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

function listenToPointer(plot: uPlot, latest: Latest): void {
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
