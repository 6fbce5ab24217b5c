import '../style/parameters.css'
import { useEffect, useState } from 'preact/hooks'
import { readingText } from '../../src/base/quantity-text.ts'
import type { FitDocument, FitWarning } from '../../src/contract/fit-document.ts'
import type { FitBody, IdentificationPage, JobView } from '../../src/contract/http-motors.ts'
import { call } from '../api.ts'
import type { ViewProps } from '../app.tsx'
import { count, moment, sentence } from '../display.ts'
import { Blank, Caution, Trouble, Unloaded } from '../parts/basics.tsx'
import { runsSince, usualOrder } from '../parts/fit-order.ts'
import { Budget, Correlation, Derived, OwnAnswers } from '../parts/fit-pictures.tsx'
import { FitSettings } from '../parts/fit-settings.tsx'
import { JobBar } from '../parts/job-bar.tsx'
import { MotorHead } from '../parts/motor-head.tsx'
import { ParameterTable } from '../parts/parameter-table.tsx'
import { go, withQuery } from '../router.ts'
import { useCell } from '../state/cell.ts'
import { jobs, tell } from '../state/live.ts'
import { useLoad } from '../state/load.ts'
import { usePageTitle } from '../state/title.ts'

/** What was identified of a motor, how far each number can be trusted, and what would help. */
export function Parameters({ place, id }: ViewProps) {
  const fit = place.query.get('fit')
  const other = place.query.get('with')
  const { data, fault, reload } = useLoad('identification', {
    params: { motor: id },
    query: { fit: fit ?? undefined, other: other ?? undefined },
  })
  usePageTitle(data ? `Parameters of ${data.motor.name}` : 'Parameters')
  const job = useFitJob(data, reload)
  const [choosing, setChoosing] = useState(false)
  if (!data) return <Unloaded fault={fault} reload={reload} />
  const start = (order: FitBody) =>
    call('startFit', { params: { motor: id }, body: order }).then(
      view => jobs.set(new Map(jobs.get()).set(view.id, view)),
      error => tell(error.message, 'bad'),
    )
  const document = data.fit?.document ?? null
  return (
    <>
      <MotorHead motor={data.motor} tab="Parameters" />
      <div class="stack">
        {fault && <Trouble text={fault.message} />}
        <FitBar page={data} job={job} onStart={() => start(usualOrder(data))} />
        {!document && data.runs.length === 0 && (
          <Blank glyph="table" title="Nothing to identify from">
            <p>This motor has no runs yet.</p>
            <a class="button first" href={`/bench?motor=${id}`}>
              Log at the bench
            </a>
          </Blank>
        )}
        {document && (
          <>
            <Warnings fit={document} />
            <ParameterTable fit={document} other={data.other?.document ?? null} />
            <Goodness fit={document} />
            <div class="two">
              <Budget fit={document} />
              <Correlation fit={document} />
            </div>
            <OwnAnswers fit={document} />
            <Derived fit={document} />
          </>
        )}
        {data.runs.length > 0 && (
          <FitSettings
            key={data.fit?.id ?? 0}
            page={data}
            isOpen={choosing}
            onOpen={setChoosing}
            onStart={start}
          />
        )}
      </div>
    </>
  )
}

/** The fit that is being made, followed to its end. */
function useFitJob(page: IdentificationPage | null, onDone: () => void): JobView | null {
  const all = useCell(jobs)
  const [seen, setSeen] = useState<string | null>(null)
  const newest = [...all.values()].filter(
    one => one.kind === 'fit' && one.motorId === page?.motor.id,
  )
  const job = newest.at(-1) ?? null
  useEffect(() => {
    if (!job || job.state === 'working' || seen === job.id) return
    setSeen(job.id)
    if (job.state === 'done') {
      go(withQuery({ fit: null, with: null }), { replace: true })
      onDone()
    }
  }, [job, seen, onDone])
  return job
}

function FitBar(props: { page: IdentificationPage; job: JobView | null; onStart: () => void }) {
  const { page, job, onStart } = props
  const since = runsSince(page)
  const isUnfinished = page.runs.length > 0 && usualOrder(page).runs.length === 0
  if (job?.state === 'working') return <JobBar job={job} title="Identifying" />
  return (
    <div class="stack">
      {job?.state === 'failed' && <Trouble text={job.text} />}
      {job?.state === 'cancelled' && (
        <Caution>The identification was cancelled; nothing was stored.</Caution>
      )}
      {page.outdated && (
        <Caution>
          The runs have changed since this fit was made. Identify again to see what they say now.
        </Caution>
      )}
      {since.length > 0 && (
        <Caution>
          {since.length === 1 ? `Run ${since[0]} was` : `Runs ${since.join(', ')} were`} logged
          after this fit. Identify again to take {since.length === 1 ? 'it' : 'them'} in.
        </Caution>
      )}
      {isUnfinished && (
        <Caution>
          No run of this motor came to its end. Choose below which ones to take all the same.
        </Caution>
      )}
      {page.runs.length > 0 && (
        <div class="row">
          <button
            type="button"
            disabled={isUnfinished}
            class={page.fit && !page.outdated && since.length === 0 ? '' : 'first'}
            onClick={onStart}
          >
            {page.fit ? 'Identify again' : 'Identify'}
          </button>
          {page.fits.length > 0 && (
            <FitChooser page={page} name="fit" label="Fit shown" chosen={page.fit?.id ?? null} />
          )}
          {page.fits.length > 1 && (
            <FitChooser
              page={page}
              name="with"
              label="Compared with"
              chosen={page.other?.id ?? null}
            />
          )}
        </div>
      )}
    </div>
  )
}

function FitChooser(props: {
  page: IdentificationPage
  name: 'fit' | 'with'
  label: string
  chosen: number | null
}) {
  const { page, name, label, chosen } = props
  return (
    <label class="row" style={{ gap: '8px' }}>
      <span class="quiet small">{label}</span>
      <select
        style={{ width: 'auto' }}
        value={String(chosen ?? '')}
        onChange={event => go(withQuery({ [name]: event.currentTarget.value }))}
      >
        {name === 'with' && <option value="">none</option>}
        {page.fits.map(fit => (
          <option key={fit.id} value={String(fit.id)}>
            fit {fit.id}, {moment(fit.createdAt)}
          </option>
        ))}
      </select>
    </label>
  )
}

/** Warnings of one kind stand together: the first in full, the others behind it. */
function Warnings({ fit }: { fit: FitDocument }) {
  const kinds = new Map<string, FitWarning[]>()
  for (const warning of fit.warnings) {
    kinds.set(warning.code, [...(kinds.get(warning.code) ?? []), warning])
  }
  if (kinds.size === 0) return null
  return (
    <Caution>
      <ul class="stack" style={{ gap: '8px' }}>
        {[...kinds].map(([code, [first, ...others]]) => (
          <li key={code}>
            <WarningText warning={first!} />
            {others.length > 0 && (
              <details>
                <summary style={{ cursor: 'pointer', minHeight: '32px' }}>
                  {others.length === 1 ? 'and one like it' : `and ${others.length} like it`}
                </summary>
                <ul class="stack small" style={{ gap: '6px', paddingLeft: '1.2rem' }}>
                  {others.map(warning => (
                    <li key={`${warning.run ?? ''}/${warning.text}`}>
                      <WarningText warning={warning} />
                    </li>
                  ))}
                </ul>
              </details>
            )}
          </li>
        ))}
      </ul>
    </Caution>
  )
}

function WarningText({ warning }: { warning: FitWarning }) {
  return (
    <>
      {sentence(warning.text)}
      {/[.!?]$/.test(warning.text) ? '' : '.'}
      {warning.run !== undefined && (
        <>
          {' '}
          <a href={`/runs/${warning.run}`}>Look at run {warning.run}</a>
        </>
      )}
    </>
  )
}

function Goodness({ fit }: { fit: FitDocument }) {
  const { degreesOfFreedom, reducedChiSquare, lackOfFit } = fit.goodness
  return (
    <section class="plate stack" aria-label="How well the model explains the runs">
      <h2>How well the model explains the runs</h2>
      <p>
        {sentence(lackOfFit)}. Ended: {fit.termination}.
      </p>
      <p class="quiet">
        Reduced χ² {readingText(reducedChiSquare, '', 3).text} with{' '}
        {count(Math.round(degreesOfFreedom))} degrees of freedom; 1 where nothing but the sensors’
        own noise is left over.
      </p>
    </section>
  )
}
