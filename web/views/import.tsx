import '../style/import.css'
import { useEffect, useState } from 'preact/hooks'
import type { ImportChanges, ImportPreview } from '../../src/contract/http-runs.ts'
import { TEST_KINDS, type TestKind } from '../../src/records/test-kind.ts'
import { call } from '../api.ts'
import type { ViewProps } from '../app.tsx'
import { count, KIND_WORDS } from '../display.ts'
import { Caution, Trouble, Working } from '../parts/basics.tsx'
import { Glyph } from '../parts/glyph.tsx'
import { ImportColumns } from '../parts/import-columns.tsx'
import { ImportReading } from '../parts/import-reading.tsx'
import { go } from '../router.ts'
import { useCell } from '../state/cell.ts'
import { jobs } from '../state/live.ts'
import { usePageTitle } from '../state/title.ts'
import { NUMBER_PATTERN, typedNumber } from '../typed-number.ts'

/** A recording made elsewhere: dropped, looked at, and only then stored. */
export function Import({ place }: ViewProps) {
  usePageTitle('Import')
  const [preview, setPreview] = useState<ImportPreview | null>(null)
  const [busy, setBusy] = useState<string | null>(null)
  const [fault, setFault] = useState<string | null>(null)
  const receive = async (file: File) => {
    setFault(null)
    setBusy(`Reading ${file.name}`)
    try {
      if (preview) call('dropImport', { params: { import: preview.id } }).catch(() => {})
      setPreview(await call('previewImport', { query: { name: file.name }, file }))
    } catch (error) {
      setFault((error as Error).message)
    } finally {
      setBusy(null)
    }
  }
  return (
    <>
      <header class="head">
        <h1>Import</h1>
      </header>
      <div class="stack">
        <DropPlace onFile={receive} small={preview !== null} />
        {busy && <Working text={busy} />}
        {fault && <Trouble text={fault} />}
        {preview && (
          <Waiting
            key={preview.id}
            preview={preview}
            motor={place.query.get('motor') ?? ''}
            onPreview={setPreview}
            onFault={setFault}
          />
        )}
      </div>
    </>
  )
}

function DropPlace({ onFile, small }: { onFile: (file: File) => void; small: boolean }) {
  const [over, setOver] = useState(false)
  const take = (files: FileList | null | undefined) => {
    const file = files?.[0]
    if (file) onFile(file)
  }
  return (
    <section
      class="drop"
      aria-label="Recording to import"
      data-over={over ? 'true' : 'false'}
      style={small ? { padding: '12px 20px' } : {}}
      onDragOver={event => {
        event.preventDefault()
        setOver(true)
      }}
      onDragLeave={() => setOver(false)}
      onDrop={event => {
        event.preventDefault()
        setOver(false)
        take(event.dataTransfer?.files)
      }}
    >
      {!small && (
        <>
          <Glyph name="import" width="64" />
          <h2>Drop a recording here</h2>
          <p class="quiet">
            Delimited text, plain or gzip: a header such as{' '}
            <b>time [s], voltage [V], current [A]</b>, a row a sample. Nothing is stored before you
            have seen what was understood.
          </p>
        </>
      )}
      <label class="button">
        {small ? 'Another file' : 'Choose a file'}
        <input
          type="file"
          accept=".csv,.tsv,.txt,.gz,text/csv,text/plain"
          onChange={event => {
            take(event.currentTarget.files)
            event.currentTarget.value = ''
          }}
        />
      </label>
    </section>
  )
}

function Waiting(props: {
  preview: ImportPreview
  motor: string
  onPreview: (preview: ImportPreview) => void
  onFault: (text: string | null) => void
}) {
  const { preview, onPreview, onFault } = props
  const [motor, setMotor] = useState(props.motor)
  const [kind, setKind] = useState<TestKind>(kindFromName(preview.name))
  const [celsius, setCelsius] = useState('')
  const [changes, setChanges] = useState<ImportChanges>({ columns: null, invert: [] })
  const [jobId, setJobId] = useState<string | null>(null)
  const [looking, setLooking] = useState(false)
  const job = useCell(jobs).get(jobId ?? '') ?? null
  useEffect(() => {
    if (job?.state === 'done' && job.resultId !== null) go(`/runs/${job.resultId}`)
  }, [job])
  const params = { import: preview.id }
  const lookAgain = (next: ImportChanges) => {
    setChanges(next)
    setLooking(true)
    call('changeImport', { params, body: next })
      .then(
        found => {
          onFault(null)
          onPreview(found)
        },
        error => onFault(error.message),
      )
      .finally(() => setLooking(false))
  }
  const store = (event: Event) => {
    event.preventDefault()
    onFault(null)
    const temperatureCelsius = celsius.trim() === '' ? null : typedNumber(celsius)
    call('acceptImport', {
      params,
      body: { ...changes, motor: motor.trim(), kind, temperatureCelsius },
    }).then(
      view => {
        jobs.set(new Map(jobs.get()).set(view.id, view))
        setJobId(view.id)
      },
      error => onFault(error.message),
    )
  }
  const working = job?.state === 'working'
  return (
    <div class="stack">
      <section class="plate stack" aria-label="What the file holds">
        <div class="row apart">
          <h2 style={{ overflowWrap: 'anywhere' }}>{preview.name}</h2>
          <p class="quiet">
            {preview.rowCount !== null
              ? `${count(preview.rowCount)} rows`
              : preview.trouble === null && 'large: its rows are checked as they are stored'}
          </p>
        </div>
        {preview.trouble && <Trouble text={preview.trouble} />}
        {preview.remarks.map(text => (
          <Caution key={text}>{text}</Caution>
        ))}
        <ImportReading
          changes={changes}
          hasTime={(changes.columns ?? preview.columns).some(c => c.quantity === 'time')}
          busy={looking}
          onChange={lookAgain}
        />
        <ImportColumns
          preview={preview}
          choices={changes.columns ?? null}
          invert={changes.invert ?? []}
          busy={looking}
          onChange={(columns, invert) => lookAgain({ ...changes, columns, invert })}
        />
      </section>
      <form class="plate stack" onSubmit={store} aria-label="Store it">
        <div class="row" style={{ alignItems: 'flex-end' }}>
          <label style={{ flex: '2 1 240px' }}>
            <span class="label">Motor, new or known by this name</span>
            <input
              required
              maxLength={200}
              value={motor}
              onInput={event => setMotor(event.currentTarget.value)}
            />
          </label>
          <label style={{ flex: '1 1 180px' }}>
            <span class="label">Kind of test</span>
            <select value={kind} onChange={event => setKind(event.currentTarget.value as TestKind)}>
              {TEST_KINDS.map(one => (
                <option key={one} value={one}>
                  {KIND_WORDS[one]}
                </option>
              ))}
            </select>
          </label>
          <label style={{ flex: '1 1 180px' }}>
            <span class="label">Winding at the start, °C</span>
            <input
              inputMode="decimal"
              pattern={NUMBER_PATTERN}
              title="Degrees Celsius, or nothing where they are not known"
              placeholder="not known"
              value={celsius}
              onInput={event => setCelsius(event.currentTarget.value)}
            />
          </label>
          <button
            type="submit"
            class="first"
            disabled={working || looking || preview.trouble !== null || motor.trim() === ''}
          >
            Store this run
          </button>
        </div>
        {working && (
          <div class="row apart">
            <p role="status">Storing, {job.text}</p>
            <button type="button" onClick={() => call('cancelJob', { params: { job: job.id } })}>
              Cancel
            </button>
          </div>
        )}
        {job?.state === 'failed' && <Trouble text={job.text} />}
      </form>
    </div>
  )
}

/** Files are often named after their test. */
function kindFromName(name: string): TestKind {
  const plain = name.toLowerCase().replaceAll(/[\s_]+/g, '-')
  return TEST_KINDS.find(kind => kind !== 'load' && plain.includes(kind)) ?? 'mixed'
}
