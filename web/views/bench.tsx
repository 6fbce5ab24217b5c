import '../style/bench.css'
import { useState } from 'preact/hooks'
import type { BenchPage, BenchView } from '../../src/contract/http-bench.ts'
import { call } from '../api.ts'
import type { ViewProps } from '../app.tsx'
import { KIND_WORDS, sentence } from '../display.ts'
import { Caution, Trouble, Unloaded } from '../parts/basics.tsx'
import { BeginCard } from '../parts/begin-card.tsx'
import { BigReadings } from '../parts/big-readings.tsx'
import { ConnectCard } from '../parts/connect-card.tsx'
import { LiveCurves } from '../parts/live-curves.tsx'
import { RigPlate } from '../parts/rig-plate.tsx'
import { SequenceCard } from '../parts/sequence-card.tsx'
import { ShortTestNow } from '../parts/short-test-card.tsx'
import { Wiring } from '../parts/wiring.tsx'
import { useCell } from '../state/cell.ts'
import { bench, drives, linked, tell } from '../state/live.ts'
import { useLoad } from '../state/load.ts'
import { usePageTitle } from '../state/title.ts'

/** Where a motor is tested: what to do on the left, what the rig reads on the right. */
export function Bench({ place }: ViewProps) {
  const { data, fault, reload } = useLoad('bench', {})
  const live = useCell(bench)
  const stream = useCell(linked)
  usePageTitle(live?.running ? `${KIND_WORDS[live.running.kind]} running` : 'Bench')
  if (!data) return <Unloaded fault={fault} reload={reload} />
  const view = live ?? data.bench
  const page: BenchPage = { bench: view, cautions: data.cautions }
  const othersDrive = view.driver !== null && !drives(view)
  const mayDrive = stream === 'open' && !othersDrive
  // At the start, and again on every new link.
  const readsCautions = view.sequence?.question?.step === 'cautions'
  const motor = Number(place.query.get('motor') ?? Number.NaN)
  return (
    <>
      <header class="head">
        <h1>Bench</h1>
        <RigPlate view={view} mayDrive={mayDrive} />
      </header>
      <div class="stack">
        {othersDrive && <OthersDrive view={view} />}
        {view.state === 'lost' && view.sequence && view.sequence.phase !== 'paused' && (
          <LinkLost view={view} mayDrive={mayDrive} />
        )}
        {view.rig === null ? (
          <ConnectCard view={view} mayDrive={mayDrive} />
        ) : (
          <div class={readsCautions ? 'wide' : 'bench-grid'}>
            <Doing
              page={page}
              mayDrive={mayDrive}
              motorId={Number.isInteger(motor) ? motor : null}
            />
            {!readsCautions && (
              <div class="stack see">
                <BigReadings view={view} />
                <LiveCurves view={view} />
              </div>
            )}
            {view.sequence && !readsCautions && (
              <figure class="plate">
                <Wiring shaft={shaftNow(view.sequence.current)} />
              </figure>
            )}
          </div>
        )}
      </div>
    </>
  )
}

function Doing(props: { page: BenchPage; mayDrive: boolean; motorId: number | null }) {
  const { page, mayDrive, motorId } = props
  const view = page.bench
  if (view.sequence) {
    return <SequenceCard view={view} cautions={page.cautions} mayDrive={mayDrive} />
  }
  // Nothing goes on and nothing can begin without a link.
  if (view.state === 'lost') return <LinkLost view={view} mayDrive={mayDrive} />
  const shortTest = view.shortTest
  if (shortTest && !['done', 'ended'].includes(shortTest.phase)) {
    return (
      <section class="plate now" aria-label="What to do now">
        <ShortTestNow test={shortTest} mayDrive={mayDrive} />
        <a class="button" href="/samples">
          To the samples
        </a>
      </section>
    )
  }
  if (view.running) {
    return (
      <section class="plate now" aria-label="What to do now">
        <h2>{KIND_WORDS[view.running.kind]}</h2>
        <p class="do" role="status">
          Logging {view.running.motor}. Keep clear of the shaft.
        </p>
        <a class="button" href={`/motors/${view.running.motorId}`}>
          Runs of this motor
        </a>
      </section>
    )
  }
  return <BeginCard page={page} mayDrive={mayDrive} motorId={motorId} />
}

/** What holds the shaft in a step, for the picture. */
function shaftNow(step: string): 'locked' | 'free' | 'any' {
  if (step === 'locked-rotor') return 'locked'
  if (['unlock', 'free-run', 'run-up', 'coast-down', 'recheck', 'first-spin'].includes(step)) {
    return 'free'
  }
  return 'any'
}

function OthersDrive({ view }: { view: BenchView }) {
  const takeOver = () =>
    call('takeControl', { body: { takeOver: true } }).catch(fault => tell(fault.message, 'bad'))
  return (
    <Caution>
      <div class="row apart">
        <p>Another page drives this bench; here you look on. Stop works from every page.</p>
        <button type="button" onClick={takeOver} disabled={view.running !== null}>
          Take over
        </button>
      </div>
    </Caution>
  )
}

function LinkLost({ view, mayDrive }: { view: BenchView; mayDrive: boolean }) {
  const [trouble, setTrouble] = useState<string | null>(null)
  const again = () => {
    setTrouble(null)
    call('reconnect').catch(fault => setTrouble(fault.message))
  }
  return (
    <Trouble text={trouble ?? sentence(view.text)}>
      <div>
        <button type="button" class="first" disabled={!mayDrive} onClick={again}>
          Connect again
        </button>
      </div>
    </Trouble>
  )
}
