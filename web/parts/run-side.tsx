import { useState } from 'preact/hooks'
import { readingText } from '../../src/base/quantity-text.ts'
import type { RunChangesBody, RunPage } from '../../src/contract/http-runs.ts'
import { celsius, count, moment, span } from '../display.ts'
import { Ending } from './basics.tsx'
import { Glyph } from './glyph.tsx'

interface RunSideProps {
  readonly page: RunPage
  readonly cursorSec: number | null
  onChange(changes: RunChangesBody): Promise<void>
}

/** What is known of the run beside its curves, and what a person may write down about it. */
export function RunSide({ page, cursorSec, onChange }: RunSideProps) {
  const { run } = page
  return (
    <>
      <section class="plate stack" aria-label="Facts">
        <div>
          <Ending ending={run.ending} />
          {run.endingText && <p class="small">{run.endingText}</p>}
        </div>
        <dl class="engraved">
          <Fact label="Length">
            {run.durationSec === null ? 'steady readings' : span(run.durationSec)}
          </Fact>
          <Fact label="Samples">{count(run.sampleCount)}</Fact>
          {run.rateHz !== null && <Fact label="Rate">{readingText(run.rateHz, 'Hz', 3).text}</Fact>}
          {run.origin !== 'import' && <Fact label="Samples lost">{count(run.samplesLost)}</Fact>}
          {run.rejectedLines > 0 && <Fact label="Lines rejected">{count(run.rejectedLines)}</Fact>}
          {run.conditions.ambientCelsius !== null && (
            <Fact label="Air">{celsius(run.conditions.ambientCelsius)}</Fact>
          )}
          {run.conditions.windingCelsius !== null && (
            <Fact label="Winding at start">{celsius(run.conditions.windingCelsius)}</Fact>
          )}
          {run.rig && <Fact label="Rig">{`${run.rig.model}, no. ${run.rig.serialNumber}`}</Fact>}
          {page.phases.length > 0 && (
            <Fact label={page.phasesInferred ? 'Phases, told from the samples' : 'Phases'}>
              {phaseCounts(page)}
            </Fact>
          )}
          {run.source && <Fact label="File">{run.source}</Fact>}
        </dl>
      </section>
      <Excluded page={page} onChange={onChange} />
      <Notes page={page} cursorSec={cursorSec} onChange={onChange} />
      {run.notes.length > 0 && (
        <details class="plate">
          <summary style={{ minHeight: '32px', cursor: 'pointer', fontWeight: 600 }}>
            {run.notes.length === 1 ? '1 event' : `${run.notes.length} events`}
          </summary>
          <ol class="stack small" style={{ gap: '8px', marginTop: '8px' }}>
            {run.notes.map((note, index) => (
              <li key={index}>
                {note.timeSec !== null && (
                  <span class="quiet">{readingText(note.timeSec, 's', 4).text} </span>
                )}
                {note.text}
              </li>
            ))}
          </ol>
        </details>
      )}
    </>
  )
}

/** `10 drive, 1 coast`. */
function phaseCounts({ phases }: RunPage): string {
  const counts = new Map<string, number>()
  for (const { state } of phases) counts.set(state, (counts.get(state) ?? 0) + 1)
  return [...counts].map(([state, n]) => `${n} ${state}`).join(', ')
}

function Fact({ label, children }: { label: string; children: string }) {
  return (
    <div>
      <dt>{label}</dt>
      <dd>{children}</dd>
    </div>
  )
}

function Excluded({ page, onChange }: Omit<RunSideProps, 'cursorSec'>) {
  const { excluded, motorId, durationSec } = page.run
  if (excluded.length === 0) return null
  const unit = durationSec === null ? '' : 's'
  const keepAllBut = (left: number) =>
    onChange({
      excluded: excluded
        .filter((_, index) => index !== left)
        .map(({ fromSec, toSec, reason }) => ({ fromSec, toSec, reason })),
    })
  return (
    <section class="plate stack" aria-label="Left out of fits">
      <h2>Left out of fits</h2>
      <ul class="stack" style={{ gap: '6px' }}>
        {excluded.map((range, index) => (
          <li key={`${range.from}-${range.to}`} class="row apart">
            <span>
              {readingText(range.fromSec, unit, 4).text} to {readingText(range.toSec, unit, 4).text}
            </span>
            <button type="button" onClick={() => keepAllBut(index)}>
              Take back in
            </button>
          </li>
        ))}
      </ul>
      <a class="button first" href={`/motors/${motorId}/parameters`}>
        Identify again
      </a>
    </section>
  )
}

function Notes({ page, cursorSec, onChange }: RunSideProps) {
  const { run } = page
  const [text, setText] = useState('')
  const [title, setTitle] = useState<string | null>(null)
  const submit = (event: Event) => {
    event.preventDefault()
    onChange({ annotation: { text, timeSec: run.durationSec === null ? null : cursorSec } }).then(
      () => setText(''),
    )
  }
  const rename = (event: Event) => {
    event.preventDefault()
    onChange({ title: title ?? '' }).then(() => setTitle(null))
  }
  return (
    <section class="plate stack" aria-label="Notes">
      {title === null ? (
        <button type="button" class="bare" onClick={() => setTitle(run.title)}>
          <Glyph name="pen" width="20" /> Name this run
        </button>
      ) : (
        <form class="row" onSubmit={rename}>
          <label style={{ flex: '1 1 160px' }}>
            <span class="label">Name of this run</span>
            <input value={title} onInput={event => setTitle(event.currentTarget.value)} />
          </label>
          <button type="submit" class="first" style={{ alignSelf: 'flex-end' }}>
            Keep
          </button>
        </form>
      )}
      {run.annotations.length > 0 && (
        <ul class="stack" style={{ gap: '10px' }}>
          {run.annotations.map(note => (
            <li key={note.writtenAt + note.text}>
              <p style={{ whiteSpace: 'pre-line' }}>{note.text}</p>
              <p class="quiet small">
                {note.timeSec !== null && `at ${readingText(note.timeSec, 's', 4).text}, `}
                {moment(note.writtenAt)}
              </p>
            </li>
          ))}
        </ul>
      )}
      <form class="stack" style={{ gap: '8px' }} onSubmit={submit}>
        <label>
          <span class="label">
            {cursorSec === null || run.durationSec === null
              ? 'Note about this run'
              : `Note at cursor A, ${readingText(cursorSec, 's', 4).text}`}
          </span>
          <textarea rows={2} value={text} onInput={event => setText(event.currentTarget.value)} />
        </label>
        <button type="submit" disabled={text.trim() === ''}>
          Write down
        </button>
      </form>
    </section>
  )
}
