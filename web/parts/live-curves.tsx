import { useEffect, useRef, useState } from 'preact/hooks'
import type uPlot from 'uplot'
import type { BenchView } from '../../src/contract/http-bench.ts'
import type { Quantity } from '../../src/records/quantity.ts'
import { channelScale, reading, SHOWN } from '../display.ts'
import { traces } from '../state/traces.ts'
import { limitOf } from './big-readings.tsx'
import { axis, Chart, colour } from './chart.tsx'

/** All channels should fit on the screen: what head, readings and rail leave, shared out. */
const heightOf = (channels: number) =>
  Math.max(92, Math.min(190, (innerHeight - 420) / Math.max(1, channels) - 34))
const AXIS_HEIGHT = 36
const EMPTY: uPlot.AlignedData = [[], [], []]

/** The last seconds of every channel, scrolling; limits drawn in where they are near. */
export function LiveCurves({ view }: { view: BenchView }) {
  const plots = useRef(new Map<Quantity, uPlot>())
  const latest = useRef(view)
  latest.current = view
  useEffect(() => {
    let frame = 0
    const draw = () => {
      frame = 0
      for (const [quantity, plot] of plots.current) plot.setData(dataOf(quantity, latest.current))
    }
    const stop = traces.listen(() => {
      // A hidden page draws nothing and misses nothing: the points are kept apart.
      if (frame === 0) frame = requestAnimationFrame(draw)
    })
    return () => {
      stop()
      cancelAnimationFrame(frame)
    }
  }, [])
  const quantities = [...new Set(view.rig?.channels.map(channel => channel.quantity) ?? [])]
  const [height] = useState(() => Math.round(heightOf(quantities.length)))
  return (
    <section class="plate" aria-label="Live curves">
      {quantities.map((quantity, place) => {
        const { unit } = scaleOf(quantity, view)
        const limit = limitOf(view, quantity)
        return (
          <div key={quantity}>
            <div class="panel-head">
              <h2>
                <span class="swatch" style={{ color: `var(${SHOWN[quantity].colour})` }} />
                {SHOWN[quantity].label}, {unit}
              </h2>
              {limit !== null && (
                <span class="small limit-key">
                  <span class="swatch" data-line="limit" /> limit {reading(quantity, limit, 3).text}
                </span>
              )}
            </div>
            <Chart
              shape={`${quantity}/${unit}/${place === quantities.length - 1}`}
              options={() => options(quantity, latest, place === quantities.length - 1)}
              data={EMPTY}
              height={height + (place === quantities.length - 1 ? AXIS_HEIGHT : 0)}
              label={`${SHOWN[quantity].label} of the last seconds in ${unit}`}
              onReady={plot => {
                if (plot) {
                  plots.current.set(quantity, plot)
                  plot.setData(dataOf(quantity, latest.current))
                } else plots.current.delete(quantity)
              }}
            />
          </div>
        )
      })}
    </section>
  )
}

/** One scale for the whole connection, from the channel's own range: an axis that jumps cannot be read. */
function scaleOf(quantity: Quantity, view: BenchView): { factor: number; unit: string } {
  const limit = limitOf(view, quantity)
  const range = view.rig?.channels.find(channel => channel.quantity === quantity)?.rangeHigh
  return channelScale(quantity, Math.abs(limit ?? range ?? 1))
}

function dataOf(quantity: Quantity, view: BenchView): uPlot.AlignedData {
  const trace = traces.channels.get(quantity)
  const { timeSec } = traces
  if (!trace || timeSec.length === 0) return EMPTY
  const from = firstShown(timeSec, traces.spanSec)
  const { factor } = scaleOf(quantity, view)
  const part = (column: readonly (number | null)[]) => {
    const out: (number | null)[] = []
    for (let i = from; i < column.length; i++) {
      const value = column[i]!
      out.push(value === null ? null : value * factor)
    }
    return out
  }
  return [timeSec.slice(from), part(trace.low), part(trace.high)]
}

function firstShown(timeSec: readonly number[], spanSec: number): number {
  const start = timeSec[timeSec.length - 1]! - spanSec
  let low = 0
  let high = timeSec.length
  while (low < high) {
    const middle = (low + high) >>> 1
    if (timeSec[middle]! < start) low = middle + 1
    else high = middle
  }
  return low
}

function options(
  quantity: Quantity,
  latest: { readonly current: BenchView },
  isLast: boolean,
): Omit<uPlot.Options, 'width' | 'height'> {
  const token = SHOWN[quantity].colour
  const edge: uPlot.Series = {
    stroke: () => colour(token),
    width: 1.6,
    points: { show: false },
    spanGaps: false,
  }
  const { factor } = scaleOf(quantity, latest.current)
  return {
    legend: { show: false },
    cursor: { show: false },
    padding: [8, 14, 0, 0],
    scales: {
      x: {
        time: false,
        range: (_plot, _low, high) => {
          const span = traces.spanSec
          const end = Math.max(span, high ?? 0)
          return [end - span, end]
        },
      },
      y: {
        range: (_plot, low, high) => {
          const limit = limitOf(latest.current, quantity)
          const bound = limit === null ? Number.POSITIVE_INFINITY : limit * factor
          const least = (limit === null ? 1 : bound) * 0.02
          const most = withNear(Math.max(high ?? 0, 0, least), bound)
          const lowest = -withNear(-Math.min(low ?? 0, 0), bound)
          const margin = 0.08 * (most - lowest)
          return [lowest - margin, most + margin]
        },
      },
    },
    axes: [
      axis({
        size: isLast ? 44 : 8,
        ...(isLast ? { label: 'time, s', labelSize: 20 } : { values: () => [] }),
      }),
      axis({ size: 68, space: 30 }),
    ],
    series: [{}, edge, edge],
    bands: [{ series: [2, 1], fill: () => `${colour(token)}66` }],
    hooks: {
      draw: [
        plot => {
          const limit = limitOf(latest.current, quantity)
          if (limit !== null) drawLimit(plot, limit * factor)
        },
      ],
    },
  }
}

/** The end of a scale, or the limit where that is near enough to be drawn. */
const withNear = (end: number, limit: number): number =>
  end > NEAR_LIMIT * limit ? Math.max(end, limit) : end
const NEAR_LIMIT = 0.6

/** A limit as a dashed line; where it lies beyond the scale, an arrow at the edge points to it. */
function drawLimit(plot: uPlot, limit: number): void {
  const { ctx, bbox } = plot
  const bottom = bbox.top + bbox.height
  ctx.save()
  ctx.strokeStyle = colour('--bad')
  ctx.fillStyle = colour('--bad')
  for (const at of [limit, -limit]) {
    const y = plot.valToPos(at, 'y', true)
    if (y >= bbox.top && y <= bottom) {
      ctx.lineWidth = 2 * devicePixelRatio
      ctx.setLineDash([10 * devicePixelRatio, 6 * devicePixelRatio])
      ctx.beginPath()
      ctx.moveTo(bbox.left, y)
      ctx.lineTo(bbox.left + bbox.width, y)
      ctx.stroke()
    } else if (at > 0 || (plot.scales.y!.min ?? 0) < 0.1 * at) {
      const size = 6 * devicePixelRatio
      const edge = at > 0 ? bbox.top : bottom
      const inward = at > 0 ? 1.4 * size : -1.4 * size
      const x = bbox.left + 2 * size
      ctx.beginPath()
      ctx.moveTo(x, edge)
      ctx.lineTo(x + size, edge + inward)
      ctx.lineTo(x - size, edge + inward)
      ctx.fill()
    }
  }
  ctx.restore()
}
