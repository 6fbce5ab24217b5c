import '../style/samples.css'
import { useRef } from 'preact/hooks'
import type { SamplesView } from '../../src/contract/http-samples.ts'
import { wordsOf } from '../../src/output/batch/sample-words.ts'
import type { BatchComparison } from '../../src/quality/batch-comparison.ts'
import type { ViewProps } from '../app.tsx'
import { sentence } from '../display.ts'
import { Blank, Caution, Trouble, Unloaded } from '../parts/basics.tsx'
import { BatchTools, batchQuery, ruleFrom } from '../parts/batch-tools.tsx'
import { CheckMotor } from '../parts/check-motor.tsx'
import { HandEntry } from '../parts/hand-entry.tsx'
import { LimitsEditor } from '../parts/limits-editor.tsx'
import { MeansAgainst } from '../parts/means-against.tsx'
import { NewBatch } from '../parts/new-batch.tsx'
import { SampleDetail } from '../parts/sample-detail.tsx'
import { ScanField } from '../parts/scan-field.tsx'
import { ShortTestCard } from '../parts/short-test-card.tsx'
import { SpreadPictures } from '../parts/spread-pictures.tsx'
import { VerdictMark } from '../parts/verdict.tsx'
import { go, withQuery } from '../router.ts'
import { useLoad } from '../state/load.ts'
import { usePageTitle } from '../state/title.ts'

/** Production samples against their reference: limits, a batch and its verdicts, one sample at a time. */
export function Samples({ place }: ViewProps) {
  usePageTitle('Samples')
  const asked = (name: string) => Number(place.query.get(name)) || undefined
  const { data, fault, reload } = useLoad('samples', {
    query: { ...batchQuery(place.query, asked('type')), batch: asked('batch') },
  })
  if (!data) return <Unloaded fault={fault} reload={reload} />
  if (data.types.length === 0) {
    return (
      <>
        <header class="head">
          <h1>Samples</h1>
        </header>
        <Blank glyph="table" title="No type to judge by yet">
          <p>
            A type is a design that motors are meant to be alike by. Give an approved motor its
            type, then set limits here.
          </p>
          <a class="button first" href="/motors">
            To the motors
          </a>
        </Blank>
      </>
    )
  }
  const batch = data.batches.find(({ id }) => id === data.batch) ?? null
  const type = data.types.find(({ id }) => id === data.type)!
  return (
    <>
      <header class="head">
        <h1>Samples</h1>
        <div class="row">
          {batch && <Choice label="Batch" name="batch" chosen={batch.id} among={data.batches} />}
          <Choice label="Against type" name="type" chosen={type.id} among={data.types} />
          <a class="button" href={`/samples/study?type=${type.id}`}>
            Gauge study
          </a>
        </div>
      </header>
      <div class="stack sample-grid">
        {!batch && <NewBatch type={type} isFirst onMade={reload} />}
        {batch && !type.hasLimits && (
          <Caution>
            <p>{type.name} has no limits yet: set them below, then samples can be judged.</p>
          </Caution>
        )}
        {data.judgement.state === 'in-trouble' && <Trouble text={sentence(data.judgement.text)} />}
        {batch && data.judgement.state === 'judged' && (
          <Judged
            key={batch.id}
            view={data}
            // The contract leaves open what `compare --json` may add; the server sends this.
            comparison={data.judgement.comparison as unknown as BatchComparison}
            batch={batch}
            typeId={type.id}
            place={place.query}
            reload={reload}
          />
        )}
        {batch && <NewBatch type={type} isFirst={false} onMade={reload} />}
        <section class="plate stack">
          <h2>Limits of {type.name}</h2>
          <LimitsEditor page={data.limits!} onSet={reload} />
        </section>
      </div>
    </>
  )
}

function Choice(props: {
  label: string
  name: string
  chosen: number
  among: readonly { id: number; name: string }[]
}) {
  return (
    <label class="row" style={{ gap: '8px' }}>
      {props.label}
      <select
        value={props.chosen}
        onChange={event => go(withQuery({ [props.name]: event.currentTarget.value, sample: null }))}
      >
        {props.among.map(each => (
          <option key={each.id} value={each.id}>
            {each.name}
          </option>
        ))}
      </select>
    </label>
  )
}

function Judged(props: {
  view: SamplesView
  comparison: BatchComparison
  batch: SamplesView['batches'][number]
  typeId: number
  place: URLSearchParams
  reload: () => void
}) {
  const { view, comparison, batch, typeId, place, reload } = props
  const query = batchQuery(place, typeId)
  const rule = ruleFrom(place)
  const scan = useRef<HTMLInputElement>(null)
  const { samples, counts } = comparison
  const chosen = place.get('sample')
  const at = samples.findIndex(sample => sample.motor === chosen)
  const sample = samples[at]
  const open = (motor: string) => go(withQuery({ sample: motor }))
  const next = samples[at + 1]
  return (
    <>
      {comparison.warnings.map(text => (
        <Caution key={text}>
          <p>{sentence(text)}</p>
        </Caution>
      ))}
      <section class="plate stack">
        <ScanField
          field={scan}
          batchId={batch.id}
          typeId={typeId}
          samples={samples}
          onFound={open}
          onAdded={reload}
        />
        {samples.length === 0 ? (
          <p>No samples yet: scan or type the serial number of the first.</p>
        ) : (
          <div class="verdict-counts">
            <VerdictMark verdict="pass" text={`${counts.pass} pass`} />
            <VerdictMark verdict="fail" text={`${counts.fail} fail`} />
            <VerdictMark verdict="undecided" text={`${counts.undecided} undecided`} />
          </div>
        )}
      </section>
      {sample && (
        <SampleDetail sample={sample} onNext={next ? () => open(next.motor) : null}>
          <HandEntry
            sample={sample}
            asked={comparison.resolved.filter(limit => limit.nominal === null)}
            onEntered={reload}
          />
          {sample.serialNumber === '' ? (
            <p>It has no serial number; give it one among the motors to test it from here.</p>
          ) : (
            <ShortTestCard
              typeId={typeId}
              rule={rule}
              what={{ kind: 'sample', batch: batch.id, serialNumber: sample.serialNumber }}
              motor={sample.motor}
              title={`Run the short test of ${sample.serialNumber}`}
              onDone={() => {
                reload()
                // The next scan needs no hand on the keyboard.
                scan.current?.focus()
              }}
            />
          )}
        </SampleDetail>
      )}
      {samples.length > 0 && (
        <section class="plate">
          <BatchTools
            overview={view}
            batchId={batch.id}
            query={query}
            place={place}
            onRefitted={reload}
          />
        </section>
      )}
      {samples.length > 0 && <Verdicts samples={samples} chosen={chosen} />}
      {comparison.against && <MeansAgainst against={comparison.against} />}
      {comparison.quantities.map(quantity => (
        <SpreadPictures key={quantity.quantity} quantity={quantity} samples={samples} />
      ))}
      <CheckMotor typeId={typeId} rule={rule} checks={comparison.bench} onMeasured={reload} />
    </>
  )
}

function Verdicts(props: { samples: BatchComparison['samples']; chosen: string | null }) {
  const { samples, chosen } = props
  return (
    <section class="plate samples-scroll">
      <h2>Verdicts</h2>
      <table class="samples-table">
        <thead>
          <tr>
            <th scope="col">Verdict</th>
            <th scope="col">Motor</th>
            <th scope="col">Serial number</th>
            <th scope="col">What stands out</th>
          </tr>
        </thead>
        <tbody>
          {samples.map(sample => (
            <tr key={sample.motor} aria-current={sample.motor === chosen ? 'true' : undefined}>
              <td>
                <VerdictMark verdict={sample.verdict} />
              </td>
              <th scope="row">
                <a href={withQuery({ sample: sample.motor })}>{sample.motor}</a>
              </th>
              <td>{sample.serialNumber}</td>
              <td>{wordsOf(sample)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  )
}
