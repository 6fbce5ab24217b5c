import type { ComponentType } from 'preact'
import { useCallback, useEffect, useState } from 'preact/hooks'
import type { SessionView } from '../src/contract/http.ts'
import { call } from './api.ts'
import { Caution, Trouble, Working } from './parts/basics.tsx'
import { KeysDialog, useGlobalKeys } from './parts/keys.tsx'
import { Notices } from './parts/notices.tsx'
import { Rail } from './parts/rail.tsx'
import { Spine } from './parts/spine.tsx'
import { followLinks, go, type Place, usePlace } from './router.ts'
import { onReturn, openStream, reopenStream } from './state/live.ts'
import { Login } from './views/login.tsx'

export interface ViewProps {
  readonly place: Place
  /** Numbers in the address. */
  readonly id: number
}

type View = ComponentType<ViewProps>

/** Views are fetched when first shown: the bench does not carry the curves. */
const VIEWS: readonly { pattern: RegExp; load: () => Promise<View> }[] = [
  { pattern: /^\/bench$/, load: () => import('./views/bench.tsx').then(m => m.Bench) },
  { pattern: /^\/motors$/, load: () => import('./views/motors.tsx').then(m => m.Motors) },
  {
    pattern: /^\/motors\/(\d+)$/,
    load: () => import('./views/motor-runs.tsx').then(m => m.MotorRuns),
  },
  {
    pattern: /^\/motors\/(\d+)\/parameters$/,
    load: () => import('./views/parameters.tsx').then(m => m.Parameters),
  },
  {
    pattern: /^\/motors\/(\d+)\/curves$/,
    load: () => import('./views/curves.tsx').then(m => m.Curves),
  },
  {
    pattern: /^\/motors\/(\d+)\/drive$/,
    load: () => import('./views/drive.tsx').then(m => m.Drive),
  },
  {
    pattern: /^\/motors\/(\d+)\/heat$/,
    load: () => import('./views/heat.tsx').then(m => m.Heat),
  },
  {
    pattern: /^\/motors\/(\d+)\/recognise$/,
    load: () => import('./views/recognise.tsx').then(m => m.Recognise),
  },
  {
    pattern: /^\/motors\/(\d+)\/sheet$/,
    load: () => import('./views/sheet.tsx').then(m => m.Sheet),
  },
  { pattern: /^\/samples$/, load: () => import('./views/samples.tsx').then(m => m.Samples) },
  { pattern: /^\/samples\/study$/, load: () => import('./views/study.tsx').then(m => m.Study) },
  { pattern: /^\/import$/, load: () => import('./views/import.tsx').then(m => m.Import) },
  { pattern: /^\/runs\/(\d+)$/, load: () => import('./views/run.tsx').then(m => m.Run) },
]

export function App() {
  const place = usePlace()
  const [session, setSession] = useState<SessionView | null>(null)
  const [fault, setFault] = useState<string | null>(null)
  const [keysOpen, setKeysOpen] = useState(false)
  const showKeys = useCallback(() => setKeysOpen(true), [])
  useGlobalKeys(showKeys)

  useEffect(() => {
    call('session').then(setSession, error => setFault(error.message))
    document.addEventListener('click', followLinks)
    return () => document.removeEventListener('click', followLinks)
  }, [])
  const mayLook = session !== null && session.role !== 'stranger'
  useEffect(() => {
    if (mayLook) openStream()
  }, [mayLook])
  // A server that was started again knows this browser no more, or as one that only looks.
  useEffect(
    () =>
      onReturn(() =>
        call('session').then(
          next => {
            setSession(next)
            if (next.role !== 'stranger') reopenStream()
          },
          () => {},
        ),
      ),
    [],
  )
  useEffect(() => {
    if (place.path === '/') go('/bench', { replace: true })
  }, [place.path])

  if (session?.role === 'stranger') return <Login onDone={setSession} />
  return (
    <div class="shell">
      <Spine path={place.path} onHelp={showKeys} />
      <main class="content">
        {fault && <Trouble text={fault} />}
        {session?.role === 'viewer' && <OnlyLooking session={session} path={place.path} />}
        {session && <Outlet place={place} />}
      </main>
      <Rail />
      <Notices />
      <KeysDialog open={keysOpen} onClose={() => setKeysOpen(false)} />
    </div>
  )
}

function OnlyLooking({ session, path }: { session: SessionView; path: string }) {
  return (
    <div style={{ marginBottom: '18px' }}>
      <Caution>
        {session.remote ? (
          <p>You look on from another machine. Motors are driven where they are wired.</p>
        ) : (
          <p>
            {path === '/entry-used' ? 'That address was used before; each works once. ' : ''}
            This browser may look but not drive or change anything. Open the newest address that the
            server printed in its terminal.
          </p>
        )}
      </Caution>
    </div>
  )
}

function Outlet({ place }: { place: Place }) {
  const match = VIEWS.map(view => ({ view, found: view.pattern.exec(place.path) })).find(
    one => one.found !== null,
  )
  const load = match?.view.load
  const [loaded, setLoaded] = useState<{ load: unknown; View: View } | null>(null)
  useEffect(() => {
    if (!load) return
    let current = true
    load().then(
      View => current && setLoaded({ load, View }),
      () => location.reload(),
    )
    return () => {
      current = false
    }
  }, [load])
  if (!match) return place.path === '/' ? null : <Nowhere />
  if (!loaded || loaded.load !== load) return <Working />
  return <loaded.View place={place} id={Number(match.found?.[1] ?? 0)} key={place.path} />
}

function Nowhere() {
  return (
    <section class="blank">
      <h1>Nothing is here</h1>
      <p>
        This address names no motor, run or place. Go to <a href="/bench">the bench</a> or to{' '}
        <a href="/motors">the motors</a>.
      </p>
    </section>
  )
}
