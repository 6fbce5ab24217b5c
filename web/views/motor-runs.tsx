import '../style/motors.css'
import { useEffect } from 'preact/hooks'
import type { MotorPage, RunSummary } from '../../src/contract/http-motors.ts'
import { call } from '../api.ts'
import type { ViewProps } from '../app.tsx'
import { count, KIND_WORDS, moment, span } from '../display.ts'
import { Blank, Caution, Ending, Unloaded } from '../parts/basics.tsx'
import { Glyph } from '../parts/glyph.tsx'
import { MotorHead } from '../parts/motor-head.tsx'
import { MotorPlate } from '../parts/motor-plate-form.tsx'
import { Thumbnail } from '../parts/thumbnail.tsx'
import { go } from '../router.ts'
import { useCell } from '../state/cell.ts'
import { lastRun, tell } from '../state/live.ts'
import { useLoad } from '../state/load.ts'
import { usePageTitle } from '../state/title.ts'
import { offerUndo } from '../state/undo.ts'

/** One motor: its plate, and its runs as strips of paper. */
export function MotorRuns({ id }: ViewProps) {
  const { data, fault, reload } = useLoad('motor', { params: { motor: id } })
  const ended = useCell(lastRun)
  usePageTitle(data?.motor.name ?? 'Motor')
  useEffect(() => {
    if (ended) reload()
  }, [ended, reload])
  if (!data) return <Unloaded fault={fault} reload={reload} />
  return (
    <>
      <MotorHead motor={data.motor} tab="Runs" />
      <div class="stack">
        <MotorPlate motor={data.motor} onChange={reload} />
        <NextThing page={data} />
        {data.runs.length > 0 && (
          <section class="stack" aria-label="Runs">
            <div class="row apart">
              <h2>{data.runs.length === 1 ? '1 run' : `${data.runs.length} runs`}</h2>
              <a class="button" href={`/import?motor=${encodeURIComponent(data.motor.name)}`}>
                <Glyph name="import" width="22" /> Import a recording
              </a>
            </div>
            <ul class="stack" style={{ gap: '10px' }}>
              {data.runs.map(run => (
                <li key={run.id}>
                  <Strip run={run} onChange={reload} />
                </li>
              ))}
            </ul>
          </section>
        )}
        {data.deletedRuns.length > 0 && <DeletedRuns runs={data.deletedRuns} onBack={reload} />}
        <div class="row">
          <button type="button" onClick={() => deleteMotor(data)}>
            <Glyph name="trash" width="20" /> Delete this motor
          </button>
        </div>
      </div>
    </>
  )
}

/** The one thing to do next with this motor. */
function NextThing({ page }: { page: MotorPage }) {
  const { motor, runs, fits, unfinishedSequence } = page
  if (unfinishedSequence) {
    return (
      <Caution>
        <div class="row apart">
          <p>
            The guided sequence of this motor was left unfinished,{' '}
            {moment(unfinishedSequence.savedAt)}.
          </p>
          <a class="button first" href={`/bench?motor=${motor.id}`}>
            Go on at the bench
          </a>
        </div>
      </Caution>
    )
  }
  if (runs.length === 0) {
    return (
      <Blank glyph="running" title="No runs yet">
        <p>
          The guided sequence logs everything that an identification needs. A recording made
          elsewhere will do as well.
        </p>
        <div class="row">
          <a class="button first" href={`/bench?motor=${motor.id}`}>
            Log at the bench
          </a>
          <a class="button" href={`/import?motor=${encodeURIComponent(motor.name)}`}>
            Import a recording
          </a>
        </div>
      </Blank>
    )
  }
  if (fits.length === 0) {
    return (
      <div class="plate row apart">
        <p>These runs have not been made into parameters yet.</p>
        <a class="button first" href={`/motors/${motor.id}/parameters`}>
          Identify
        </a>
      </div>
    )
  }
  return null
}

function Strip({ run, onChange }: { run: RunSummary; onChange: () => void }) {
  const remove = () =>
    call('deleteRun', { params: { run: run.id } }).then(
      () => {
        onChange()
        offerUndo(`Run ${run.id} was deleted.`, () => restoreRun(run.id, onChange))
      },
      fault => tell(fault.message, 'bad'),
    )
  return (
    <article class="strip">
      <span class="kind">
        <Glyph name={run.kind} />
      </span>
      <div class="name">
        <a href={`/runs/${run.id}`}>{run.title || KIND_WORDS[run.kind]}</a>
        <p class="quiet small">
          run {run.id}
          {run.title && `, ${KIND_WORDS[run.kind].toLowerCase()}`} · {moment(run.startedAt)}
        </p>
      </div>
      <Thumbnail channels={run.thumbnails} />
      <div class="facts">
        <Ending ending={run.ending} />
        <span class="quiet small">
          {run.durationSec === null
            ? `${count(run.sampleCount)} steady readings`
            : `${span(run.durationSec)}, ${count(run.sampleCount)} samples`}
        </span>
        {run.samplesLost > 0 && (
          <span class="stamp" data-tone="warn">
            <Glyph name="warn" />
            {count(run.samplesLost)} lost
          </span>
        )}
      </div>
      <div class="acts">
        <button type="button" class="bare" onClick={remove} aria-label={`Delete run ${run.id}`}>
          <Glyph name="trash" />
        </button>
      </div>
    </article>
  )
}

const restoreRun = (run: number, onBack: () => void) =>
  call('restoreRun', { params: { run } }).then(onBack, fault => tell(fault.message, 'bad'))

function deleteMotor({ motor }: MotorPage) {
  call('deleteMotor', { params: { motor: motor.id } }).then(
    () => {
      go('/motors')
      offerUndo(`${motor.name} and its runs were deleted.`, () =>
        call('restoreMotor', { params: { motor: motor.id } }).then(
          () => go(`/motors/${motor.id}`),
          fault => tell(fault.message, 'bad'),
        ),
      )
    },
    fault => tell(fault.message, 'bad'),
  )
}

function DeletedRuns({ runs, onBack }: { runs: readonly RunSummary[]; onBack: () => void }) {
  return (
    <details>
      <summary style={{ minHeight: '44px', cursor: 'pointer' }}>
        {runs.length === 1 ? '1 deleted run' : `${runs.length} deleted runs`}
      </summary>
      <table>
        <tbody>
          {runs.map(run => (
            <tr key={run.id}>
              <th scope="row">
                {run.title || KIND_WORDS[run.kind]} <span class="quiet">run {run.id}</span>
              </th>
              <td class="quiet">deleted {run.deletedAt && moment(run.deletedAt)}</td>
              <td>
                <button type="button" onClick={() => restoreRun(run.id, onBack)}>
                  Bring back
                </button>
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </details>
  )
}
