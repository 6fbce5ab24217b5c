import { useCallback, useEffect, useRef, useState } from 'preact/hooks'
import type { RunPage } from '../../src/contract/http-runs.ts'
import { call } from '../api.ts'
import type { ViewProps } from '../app.tsx'
import { KIND_WORDS, moment } from '../display.ts'
import { Blank, Caution, Trouble, Unloaded } from '../parts/basics.tsx'
import { CursorTable, type Cursors } from '../parts/run-cursors.tsx'
import { RunPanels } from '../parts/run-panels.tsx'
import { RunSide } from '../parts/run-side.tsx'
import { RunTools } from '../parts/run-tools.tsx'
import { go, withQuery } from '../router.ts'
import { useLoad } from '../state/load.ts'
import { tell } from '../state/live.ts'
import { usePageTitle } from '../state/title.ts'
import { POINTS, short, useWindow } from '../state/window.ts'

/** One run: what was measured, what the fitted motor does under the same voltage, and the difference. */
export function Run({ place, id }: ViewProps) {
  // The first address says it all in one request; later moves fetch samples only.
  const [first] = useState(() => ({
    from: numberOf(place.query, 'from'),
    to: numberOf(place.query, 'to'),
    fit: numberOf(place.query, 'fit'),
    points: POINTS,
  }))
  const { data, fault, reload } = useLoad('run', { params: { run: id }, query: first })
  usePageTitle(data ? `${nameOf(data)}, ${data.run.motorName}` : `Run ${id}`)
  if (!data) return <Unloaded fault={fault} reload={reload} />
  return <LoadedRun page={data} query={place.query} onChange={reload} />
}

const nameOf = ({ run }: RunPage) => run.title || KIND_WORDS[run.kind]

function numberOf(query: URLSearchParams, key: string): number | undefined {
  const value = Number(query.get(key) ?? Number.NaN)
  return Number.isFinite(value) ? value : undefined
}

/** Presses of a key that take a cursor across the screen. */
const STEPS_ACROSS = 200

function LoadedRun(props: { page: RunPage; query: URLSearchParams; onChange: () => void }) {
  const { page, query, onChange } = props
  const { run } = page
  const { window, series, whole, setWindow, trouble } = useWindow(page, query)
  const cursors: Cursors = { a: numberOf(query, 'a') ?? null, b: numberOf(query, 'b') ?? null }
  const isSteady = run.durationSec === null
  const pointer = useRef<number | null>(null)
  /** True where cursor B was set last: the keys move that one. */
  const movesB = useRef(false)
  const onPoint = useCallback(
    (x: number, second: boolean) => {
      movesB.current = second
      const at = isSteady ? Math.round(x) : short(x, window)
      go(withQuery(second ? { b: at } : { a: at }), { replace: true })
    },
    [window, isSteady],
  )
  const clear = () => go(withQuery({ a: null, b: null }), { replace: true })
  useEffect(() => {
    const onKey = (event: KeyboardEvent) => {
      const target = event.target as HTMLElement | null
      if (event.ctrlKey || event.metaKey || event.altKey) return
      if (target?.matches('input, select, textarea, dialog *')) return
      const at = pointer.current ?? (window.from + window.to) / 2
      const step = { ArrowLeft: -1, ArrowRight: 1 }[event.key]
      if (event.shiftKey && step !== undefined) {
        const second = movesB.current && cursors.b !== null
        const moved = second ? cursors.b : cursors.a
        if (moved === null) return
        const by = isSteady ? 1 : (window.to - window.from) / STEPS_ACROSS
        const to = moved + step * by
        onPoint(Math.min(window.to, Math.max(window.from, to)), second)
        event.preventDefault()
        return
      }
      if (event.key === 'a') onPoint(at, false)
      else if (event.key === 'b') onPoint(at, true)
      else if (event.key === 'x') clear()
    }
    addEventListener('keydown', onKey)
    return () => removeEventListener('keydown', onKey)
  }, [window, onPoint, cursors.a, cursors.b])

  const exclude = () => {
    const [fromSec, toSec] = [cursors.a!, cursors.b!].sort((x, y) => x - y) as [number, number]
    const kept = run.excluded.map(({ fromSec, toSec, reason }) => ({ fromSec, toSec, reason }))
    change({ excluded: [...kept, { fromSec, toSec, reason: 'taken out by hand' }] }).then(clear)
  }
  const change = (
    body: Parameters<typeof call<'changeRun'>>[1] extends infer G
      ? G extends { body?: infer B }
        ? NonNullable<B>
        : never
      : never,
  ) =>
    call('changeRun', { params: { run: run.id }, body }).then(onChange, fault =>
      tell(fault.message, 'bad'),
    )

  return (
    <>
      <header class="head">
        <div>
          <p class="crumb">
            <a href="/motors">Motors</a> / <a href={`/motors/${run.motorId}`}>{run.motorName}</a>
          </p>
          <h1>{nameOf(page)}</h1>
          <p class="quiet">
            run {run.id} · {moment(run.startedAt)}
          </p>
        </div>
        <RunTools page={page} window={window} whole={whole} series={series} onWindow={setWindow} />
      </header>
      <div class="run-grid">
        <div class="stack">
          {trouble && <Trouble text={trouble} />}
          {series.fittedTrouble && <Caution>{series.fittedTrouble}</Caution>}
          {run.sampleCount === 0 ? (
            <Blank glyph="running" title="No samples">
              <p>{run.endingText || 'Nothing was logged before this run ended.'}</p>
            </Blank>
          ) : (
            <section class="plate">
              <RunPanels
                series={series}
                phases={page.phases}
                excluded={run.excluded}
                cursors={cursors}
                window={window}
                isSteady={isSteady}
                onWindow={setWindow}
                onPoint={onPoint}
                onHover={x => {
                  pointer.current = x
                }}
              />
              <p class="quiet small">
                Drag across to zoom, turn the wheel to zoom at the pointer, click for cursor A,
                shift and click for cursor B.
              </p>
            </section>
          )}
        </div>
        <aside class="stack">
          <CursorTable
            cursors={cursors}
            series={series}
            window={window}
            isSteady={isSteady}
            onClear={clear}
            onExclude={exclude}
          />
          <RunSide page={page} cursorSec={cursors.a} onChange={change} />
        </aside>
      </div>
    </>
  )
}
