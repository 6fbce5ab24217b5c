import 'uplot/dist/uPlot.min.css'
import '../style/chart.css'
import { useEffect, useRef } from 'preact/hooks'
import uPlot from 'uplot'

/** Colour of a token in the scheme that is on screen now. */
export const colour = (token: string): string =>
  getComputedStyle(document.documentElement).getPropertyValue(token).trim()

export const AXIS_FONT = "13px 'Atkinson Hyperlegible Next Variable', system-ui, sans-serif"

/** Axis as all charts of the page draw it. */
export function axis(changes: Partial<uPlot.Axis> = {}): uPlot.Axis {
  return {
    stroke: () => colour('--quiet'),
    font: AXIS_FONT,
    labelFont: AXIS_FONT,
    grid: { stroke: () => colour('--grid'), width: 1 },
    ticks: { stroke: () => colour('--grid'), width: 1, size: 5 },
    values: (_plot, splits) => splits.map(axisNumber),
    ...changes,
  }
}

/** Axis numbers with a true minus and no stray digits. */
export const axisNumber = (value: number): string =>
  Number(value.toPrecision(10)).toString().replace('-', '−')

export interface ChartProps {
  readonly options: () => Omit<uPlot.Options, 'width' | 'height'>
  readonly data: uPlot.AlignedData
  readonly height: number
  /** What is drawn, in words. */
  readonly label: string
  /** Made anew when this changes: series, units. */
  readonly shape: string
  readonly onReady?: (plot: uPlot | null) => void
}

/** One uPlot, as wide as its place; drawn again when the colour scheme changes. */
export function Chart({ options, data, height, label, shape, onReady }: ChartProps) {
  const place = useRef<HTMLDivElement>(null)
  const plot = useRef<uPlot | null>(null)
  const latest = useRef(data)
  latest.current = data

  useEffect(() => {
    const element = place.current!
    const made = new uPlot(
      { ...options(), width: Math.max(100, element.clientWidth), height },
      latest.current,
      element,
    )
    plot.current = made
    onReady?.(made)
    const resize = new ResizeObserver(() => {
      const width = Math.max(100, element.clientWidth)
      if (width !== made.width) made.setSize({ width, height })
    })
    resize.observe(element)
    const scheme = matchMedia('(prefers-color-scheme: dark)')
    const recolour = () => made.redraw(false, true)
    scheme.addEventListener('change', recolour)
    return () => {
      scheme.removeEventListener('change', recolour)
      resize.disconnect()
      onReady?.(null)
      made.destroy()
      plot.current = null
    }
  }, [shape, height])

  useEffect(() => {
    plot.current?.setData(data)
  }, [data])

  return (
    <div
      ref={place}
      class="chart"
      role="img"
      aria-label={label}
      style={{ height: `${height}px` }}
    />
  )
}
