import { useEffect, useMemo, useRef, useState } from 'preact/hooks'
import type uPlot from 'uplot'
import { readingText } from '../../src/base/quantity-text.ts'
import { SHOWN } from '../display.ts'
import { Chart } from './chart.tsx'
import { makePanels, type Panel, words } from './run-panel-data.ts'
import { listenToPointer, plotOptions, type RunPanelsProps } from './run-panel-plot.ts'

const PANEL_HEIGHT = 176
const RESIDUAL_HEIGHT = 104
/** The last panel carries the axis of all. */
const AXIS_HEIGHT = 38

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
