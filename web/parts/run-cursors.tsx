import { readingText } from '../../src/base/quantity-text.ts'
import type { SeriesView } from '../../src/contract/http-runs.ts'
import { channelScale, SHOWN } from '../display.ts'
import { short, type Window } from '../state/window.ts'

export interface Cursors {
  readonly a: number | null
  readonly b: number | null
}

interface CursorTableProps {
  readonly cursors: Cursors
  readonly series: SeriesView
  readonly window: Window
  readonly isSteady: boolean
  onClear(): void
  onExclude(): void
}

/** Readings at two moments and their differences. */
export function CursorTable(props: CursorTableProps) {
  const { cursors, series, window, isSteady, onClear, onExclude } = props
  const { a, b } = cursors
  if (a === null && b === null) return null
  const indexA = a === null ? null : nearest(series.x, a)
  const indexB = b === null ? null : nearest(series.x, b)
  const rows = series.measured.map(channel => {
    const values = [indexA, indexB].map(index =>
      index === null ? null : (channel.mean[index] ?? null),
    ) as [number | null, number | null]
    const difference = values[0] !== null && values[1] !== null ? values[1] - values[0] : null
    const size = Math.max(...[...values, difference].map(value => Math.abs(value ?? 0)))
    const { factor, unit } = channelScale(channel.quantity, size)
    return {
      label: `${SHOWN[channel.quantity].label}, ${unit}`,
      cells: [...values, difference].map(value =>
        value === null ? '' : readingText(value * factor, '', 5).text,
      ),
    }
  })
  const time = (value: number | null) =>
    value === null ? '' : String(short(value, window)).replace('-', '−')
  return (
    <section class="plate stack" aria-label="Cursors">
      <div class="scroll-x">
        <table class="cursor-table">
          <thead>
            <tr>
              <th scope="col">
                <span class="unseen">Channel</span>
              </th>
              <th scope="col">A</th>
              <th scope="col">B</th>
              <th scope="col">B − A</th>
            </tr>
          </thead>
          <tbody class="small">
            <tr>
              <th scope="row">{isSteady ? 'Row' : 'Time, s'}</th>
              <td>{time(a)}</td>
              <td>{time(b)}</td>
              <td>{a !== null && b !== null ? time(b - a) : ''}</td>
            </tr>
            {rows.map(row => (
              <tr key={row.label}>
                <th scope="row">{row.label}</th>
                {row.cells.map((cell, column) => (
                  <td key={['a', 'b', 'difference'][column]}>{cell}</td>
                ))}
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      <div class="row">
        {a !== null && b !== null && a !== b && (
          <button type="button" onClick={onExclude}>
            Leave A to B out of fits
          </button>
        )}
        <button type="button" class="bare" onClick={onClear}>
          Take the cursors away <kbd>x</kbd>
        </button>
      </div>
    </section>
  )
}

function nearest(ascending: readonly number[], value: number): number | null {
  let best: number | null = null
  let distance = Number.POSITIVE_INFINITY
  for (const [index, x] of ascending.entries()) {
    const d = Math.abs(x - value)
    if (d < distance) {
      distance = d
      best = index
    }
  }
  return best
}
