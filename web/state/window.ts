import { useCallback, useEffect, useRef, useState } from 'preact/hooks'
import type { RunPage, SeriesView } from '../../src/contract/http-runs.ts'
import { call } from '../api.ts'
import { go, withQuery } from '../router.ts'

export interface Window {
  readonly from: number
  readonly to: number
}

/** So many slots as there are points across a wide screen. */
export const POINTS = 1400
const SETTLE_MS = 90

/**
 * The part of a run that is on screen. The curves move at once with what is there; finer samples
 * follow once the hand rests. The address holds the part, so it can be shared and gone back to.
 */
export function useWindow(
  page: RunPage,
  query: URLSearchParams,
): {
  window: Window
  series: SeriesView
  whole: Window
  setWindow: (window: Window, kind: 'chosen' | 'moving') => void
  trouble: string | null
} {
  const whole = wholeOf(page)
  const asked = windowOf(query, whole)
  const fit = query.get('fit')
  const [window, setShown] = useState(asked)
  const [series, setSeries] = useState(page.series)
  const [trouble, setTrouble] = useState<string | null>(null)
  const timer = useRef(0)
  const have = useRef(`${page.series.fromSec}/${page.series.toSec}/${page.series.fitId}`)

  const key = `${asked.from}/${asked.to}/${fit ?? page.series.fitId}`
  useEffect(() => {
    setShown(asked)
    if (key === have.current) return
    const abort = new AbortController()
    call('series', {
      params: { run: page.run.id },
      query: {
        from: asked.from,
        to: asked.to,
        points: POINTS,
        fit: fit ?? page.series.fitId ?? undefined,
      },
      signal: abort.signal,
    }).then(
      answer => {
        have.current = key
        setSeries(answer)
        setTrouble(null)
      },
      fault => {
        if (!abort.signal.aborted) setTrouble(fault.message)
      },
    )
    return () => abort.abort()
  }, [key])

  const setWindow = useCallback(
    (wanted: Window, kind: 'chosen' | 'moving') => {
      const next = clamp(wanted, whole)
      setShown(next)
      clearTimeout(timer.current)
      const isWhole = next.from <= whole.from && next.to >= whole.to
      const address = () =>
        withQuery({
          from: isWhole ? null : short(next.from, next),
          to: isWhole ? null : short(next.to, next),
        })
      if (kind === 'chosen') go(address())
      else
        timer.current = globalThis.window.setTimeout(
          () => go(address(), { replace: true }),
          SETTLE_MS,
        )
    },
    [whole.from, whole.to],
  )
  useEffect(() => () => clearTimeout(timer.current), [])
  return { window, series, whole, setWindow, trouble }
}

function wholeOf({ run }: RunPage): Window {
  return { from: 0, to: run.durationSec ?? Math.max(1, run.sampleCount - 1) }
}

function windowOf(query: URLSearchParams, whole: Window): Window {
  const from = query.has('from') ? Number(query.get('from')) : whole.from
  const to = query.has('to') ? Number(query.get('to')) : whole.to
  return Number.isFinite(from) && Number.isFinite(to) && to > from
    ? clamp({ from, to }, whole)
    : whole
}

/** Inside the run, and not narrower than what is worth drawing. */
function clamp(wanted: Window, whole: Window): Window {
  const least = Math.max(1e-6, (whole.to - whole.from) * 1e-7)
  const span = Math.min(whole.to - whole.from, Math.max(least, wanted.to - wanted.from))
  const from = Math.min(Math.max(wanted.from, whole.from), whole.to - span)
  return { from, to: from + span }
}

/** As many digits as tell apart what can be seen. */
export function short(value: number, { from, to }: Window): number {
  const decimals = Math.max(0, Math.min(9, 4 - Math.floor(Math.log10(to - from))))
  return Number(value.toFixed(decimals))
}
