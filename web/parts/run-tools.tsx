import { useEffect } from 'preact/hooks'
import type { RunPage, SeriesView } from '../../src/contract/http-runs.ts'
import { addressOf } from '../api.ts'
import { go, withQuery } from '../router.ts'
import type { Window } from '../state/window.ts'
import { moment } from '../display.ts'
import { Glyph } from './glyph.tsx'

interface RunToolsProps {
  readonly page: RunPage
  readonly window: Window
  readonly whole: Window
  readonly series: SeriesView
  onWindow(window: Window, kind: 'chosen' | 'moving'): void
}

/** Zoom and move by button or key, the fit that is laid over, and the way to the neighbours. */
export function RunTools({ page, window, whole, series, onWindow }: RunToolsProps) {
  const span = window.to - window.from
  const zoom = (factor: number) => {
    const middle = (window.from + window.to) / 2
    onWindow({ from: middle - (span * factor) / 2, to: middle + (span * factor) / 2 }, 'moving')
  }
  const move = (share: number) =>
    onWindow({ from: window.from + span * share, to: window.to + span * share }, 'moving')
  const isWhole = span >= whole.to - whole.from

  useEffect(() => {
    const onKey = (event: KeyboardEvent) => {
      const target = event.target as HTMLElement | null
      if (event.ctrlKey || event.metaKey || event.altKey) return
      // With shift the arrows move a cursor.
      if (event.shiftKey && event.key.startsWith('Arrow')) return
      if (target?.matches('input, select, textarea, dialog *')) return
      const acts: Record<string, () => void> = {
        '+': () => zoom(0.5),
        '=': () => zoom(0.5),
        '-': () => zoom(2),
        ArrowLeft: () => move(-0.25),
        ArrowRight: () => move(0.25),
        '0': () => onWindow(whole, 'chosen'),
        '[': () => page.previousRun && go(`/runs/${page.previousRun}`),
        ']': () => page.nextRun && go(`/runs/${page.nextRun}`),
      }
      const act = acts[event.key]
      if (!act) return
      event.preventDefault()
      act()
    }
    addEventListener('keydown', onKey)
    return () => removeEventListener('keydown', onKey)
  })

  return (
    <div class="row">
      {page.fits.length > 0 && (
        <label>
          <span class="unseen">Fit laid over</span>
          <select
            style={{ minWidth: '250px' }}
            value={String(series.fitId ?? '')}
            onChange={event => go(withQuery({ fit: event.currentTarget.value }))}
          >
            {page.fits.map(fit => (
              <option key={fit.id} value={String(fit.id)}>
                fit {fit.id}, {moment(fit.createdAt)}
              </option>
            ))}
          </select>
        </label>
      )}
      <div class="tools" role="toolbar" aria-label="Part of the run on screen">
        <button type="button" onClick={() => zoom(0.5)} aria-label="Zoom in">
          <Glyph name="plus" />
        </button>
        <button type="button" onClick={() => zoom(2)} aria-label="Zoom out" disabled={isWhole}>
          <Glyph name="minus" />
        </button>
        <button type="button" onClick={() => move(-0.25)} aria-label="Earlier" disabled={isWhole}>
          <Glyph name="left" />
        </button>
        <button type="button" onClick={() => move(0.25)} aria-label="Later" disabled={isWhole}>
          <Glyph name="right" />
        </button>
        <button
          type="button"
          onClick={() => onWindow(whole, 'chosen')}
          aria-label="The whole run"
          disabled={isWhole}
        >
          <Glyph name="whole" />
        </button>
        <a class="button" href={addressOf('recording', { params: { run: page.run.id } })} download>
          <Glyph name="save" /> CSV
        </a>
      </div>
    </div>
  )
}
