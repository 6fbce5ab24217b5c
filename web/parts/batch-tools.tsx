import { useEffect, useState } from 'preact/hooks'
import type { SamplesView } from '../../src/contract/http-samples.ts'
import { SUBGROUP_SIZES } from '../../src/records/batch.ts'
import { addressOf, call, type Given } from '../api.ts'
import { sentence } from '../display.ts'
import { go, withQuery } from '../router.ts'
import { useCell } from '../state/cell.ts'
import { jobs, tell } from '../state/live.ts'
import { Trouble } from './basics.tsx'
import { Glyph } from './glyph.tsx'
import { JobBar } from './job-bar.tsx'
import type { RuleChoice } from './short-test-card.tsx'

type BatchQuery = NonNullable<Given<'batchReport'>['query']>

const RULES = [
  { value: '', rule: 'conformity', level: undefined, text: '95 % conformity' },
  { value: 'consumer-risk-5', rule: 'consumer-risk', level: 0.05, text: "consumer's risk 5 %" },
  { value: 'consumer-risk-1', rule: 'consumer-risk', level: 0.01, text: "consumer's risk 1 %" },
  { value: 'simple', rule: 'simple', level: undefined, text: 'simple acceptance' },
] as const

/** The decision rule that the address names. */
export function ruleFrom(query: URLSearchParams): RuleChoice {
  const chosen = RULES.find(each => each.value === (query.get('rule') ?? '')) ?? RULES[0]
  return { rule: chosen.rule, level: chosen.level }
}

/** How a batch is judged and drawn, as the address names it. */
export function batchQuery<T extends number | undefined>(query: URLSearchParams, typeId: T) {
  const number = (name: string) => Number(query.get(name) ?? '') || undefined
  return {
    against: typeId,
    ...ruleFrom(query),
    subgroup: number('subgroup'),
    with: number('with'),
  }
}

const FILES = ['pdf', 'html', 'csv', 'json'] as const

/** How to judge, what to compare with, the report as a file, and identifying all samples anew. */
export function BatchTools(props: {
  overview: SamplesView
  batchId: number
  query: BatchQuery
  place: URLSearchParams
  onRefitted: () => void
}) {
  const { overview, batchId, query, place, onRefitted } = props
  const others = overview.batches.filter(each => each.id !== batchId)
  const sizes = Array.from(
    { length: SUBGROUP_SIZES.most - SUBGROUP_SIZES.least + 1 },
    (_, i) => i + SUBGROUP_SIZES.least,
  )
  return (
    <div class="stack">
      <div class="row">
        <Pick
          name="rule"
          label="Decision rule"
          place={place}
          options={RULES.map(({ value, text }) => [value, text])}
        />
        <Pick
          name="subgroup"
          label="Charts of"
          place={place}
          options={[
            ['', 'each sample'],
            ...sizes.map(size => [String(size), `subgroups of ${size}`] as const),
          ]}
        />
        {others.length > 0 && (
          <Pick
            name="with"
            label="Means against"
            place={place}
            options={[
              ['', 'no other batch'],
              ...others.map(each => [String(each.id), each.name] as const),
            ]}
          />
        )}
      </div>
      <div class="row">
        {FILES.map(format => (
          <a
            key={format}
            class="button"
            href={addressOf('batchReport', { params: { batch: batchId, format }, query })}
            download
          >
            <Glyph name="save" width="20" /> Report {format.toUpperCase()}
          </a>
        ))}
      </div>
      <Refit
        batchId={batchId}
        against={Number(query.against)}
        known={overview.refits.find(each => each.batch === batchId)?.job ?? null}
        onDone={onRefitted}
      />
    </div>
  )
}

function Pick(props: {
  name: string
  label: string
  place: URLSearchParams
  options: readonly (readonly [string, string])[]
}) {
  const { name, label, place, options } = props
  return (
    <label class="pick">
      <span class="label">{label}</span>
      <select
        value={place.get(name) ?? ''}
        onChange={event => go(withQuery({ [name]: event.currentTarget.value }))}
      >
        {options.map(([value, text]) => (
          <option key={value} value={value}>
            {text}
          </option>
        ))}
      </select>
    </label>
  )
}

/** All samples identified anew from their recordings, with progress, and to be cancelled. */
function Refit(props: {
  batchId: number
  against: number
  known: string | null
  onDone: () => void
}) {
  const { batchId, against, known, onDone } = props
  const all = useCell(jobs)
  const [own, setOwn] = useState<string | null>(known)
  const job = (own === null ? null : all.get(own)) ?? null
  const state = job?.state
  useEffect(() => {
    if (state === 'done' || state === 'cancelled') onDone()
  }, [state])
  // Begun before this page was opened: told once, then followed by the stream.
  useEffect(() => {
    if (known === null || all.has(known)) return
    call('job', { params: { job: known } }).then(
      view => jobs.set(new Map(jobs.get()).set(view.id, view)),
      () => setOwn(null),
    )
  }, [known])
  const start = () =>
    call('refitBatch', { params: { batch: batchId }, body: { against } }).then(
      view => {
        if (!jobs.get().has(view.id)) jobs.set(new Map(jobs.get()).set(view.id, view))
        setOwn(view.id)
      },
      fault => tell(fault.message, 'bad'),
    )
  if (job?.state === 'working') return <JobBar job={job} title="Identifying anew" />
  return (
    <div class="stack">
      {job?.state === 'failed' && <Trouble text={job.text} />}
      {job?.state === 'done' && <p role="status">{sentence(job.text)}.</p>}
      {job?.state === 'cancelled' && (
        <p role="status">Cancelled; samples that were done by then have a new identification.</p>
      )}
      <div class="row">
        <button type="button" onClick={start}>
          Identify all samples anew
        </button>
      </div>
    </div>
  )
}
