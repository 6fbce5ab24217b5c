import type { Thumbnail as ThumbnailData } from '../../src/contract/http-motors.ts'
import type { Quantity } from '../../src/records/quantity.ts'
import { SHOWN } from '../display.ts'

const WIDTH = 240
const HEIGHT = 68
const MARGIN = 5

/** A run at a glance: each channel between its own lowest and highest, in its colour. */
export function Thumbnail({ channels }: { channels: readonly ThumbnailData[] }) {
  const words = channels.map(channel => SHOWN[channel.quantity].label.toLowerCase()).join(' and ')
  return (
    <svg
      class="thumb"
      viewBox={`0 0 ${WIDTH} ${HEIGHT}`}
      preserveAspectRatio="none"
      role="img"
      aria-label={words === '' ? 'No samples' : `Course of ${words}`}
    >
      {channels.map((channel, index) => (
        <path
          key={channel.quantity}
          d={outline(channel)}
          fill={`var(${SHOWN[channel.quantity].colour})`}
          fill-opacity="0.35"
          stroke={`var(${SHOWN[channel.quantity].colour})`}
          stroke-dasharray={index === 1 ? '5 2' : undefined}
        />
      ))}
    </svg>
  )
}

/** In SI: a channel that shows less than this shows its noise, and is drawn as flat as it is. */
const LEAST: Readonly<Partial<Record<Quantity, number>>> = {
  voltage: 0.2,
  current: 0.03,
  speed: 10,
}

/** Along the upper ends, back along the lower ones; a gap ends the piece. */
function outline({ quantity, low, high }: ThumbnailData): string {
  const known = [...low, ...high].filter(value => value !== null)
  const short = (LEAST[quantity] ?? 0) - (Math.max(0, ...known) - Math.min(0, ...known))
  const bottom = Math.min(0, ...known) - Math.max(0, short / 2)
  const top = Math.max(0, ...known) + Math.max(0, short / 2)
  const scale = top > bottom ? (HEIGHT - 2 * MARGIN) / (top - bottom) : 0
  const x = (i: number) => ((i + 0.5) * WIDTH) / low.length
  const y = (value: number) => HEIGHT - MARGIN - (value - bottom) * scale
  const pieces: string[] = []
  for (let start = 0; start < low.length; start++) {
    if (low[start] === null) continue
    let end = start
    while (end + 1 < low.length && low[end + 1] != null) end++
    const points: string[] = []
    for (let i = start; i <= end; i++) points.push(`${x(i).toFixed(1)} ${y(high[i]!).toFixed(1)}`)
    for (let i = end; i >= start; i--) points.push(`${x(i).toFixed(1)} ${y(low[i]!).toFixed(1)}`)
    pieces.push(`M${points.join('L')}z`)
    start = end
  }
  return pieces.join('')
}
