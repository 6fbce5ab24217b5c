import '../style/samples.css'
import type { SamplesOverview } from '../../src/contract/http-samples.ts'
import { wordsOf } from '../../src/output/batch/sample-words.ts'
import type { BatchComparison } from '../../src/quality/batch-comparison.ts'
import { addressOf } from '../api.ts'
import type { ViewProps } from '../app.tsx'
import { Blank, Caution, Trouble, Working } from '../parts/basics.tsx'
import { Glyph } from '../parts/glyph.tsx'
import { LimitsEditor } from '../parts/limits-editor.tsx'
import { SampleDetail } from '../parts/sample-detail.tsx'
import { ScanField } from '../parts/scan-field.tsx'
import { CheckPicture, SpreadPictures } from '../parts/spread-pictures.tsx'
import { VerdictMark } from '../parts/verdict.tsx'
import { go, withQuery } from '../router.ts'
import { useLoad } from '../state/load.ts'
import { usePageTitle } from '../state/title.ts'

/** Production samples against their reference: limits, a batch and its verdicts, one sample at a time. */
export function Samples({ place }: ViewProps) {
  usePageTitle('Samples')
  const { data, fault, reload } = useLoad('samples', {})
  if (!data) return fault ? <Trouble text={fault.message} /> : <Working />
  if (data.types.length === 0) {
    return (
      <Blank glyph="table" title="No type to judge by yet">
        <p>
          A type is a design that motors are meant to be alike by. Give an approved motor its type,
          then set limits here.
        </p>
        <a class="button first" href="/motors">
          To the motors
        </a>
      </Blank>
    )
  }
  const batch = pick(data.batches, place.query.get('batch')) ?? data.batches[0] ?? null
  const type =
    pick(data.types, place.query.get('type')) ??
    data.types.find(each => each.id === batch?.typeId) ??
    data.types.find(each => each.hasLimits) ??
    data.types[0]!
  return (
    <>
      <header class="head">
        <h1>Samples</h1>
        <div class="row">
          <Choice label="Batch" name="batch" chosen={batch?.id ?? 0} among={data.batches} />
          <Choice label="Against type" name="type" chosen={type.id} among={data.types} />
        </div>
      </header>
      <div class="stack sample-grid">
        {!batch && (
          <p>
            No batches yet. Make one at a terminal: <code>rotorfit batch add NAME MOTOR …</code>
          </p>
        )}
        {batch && type.hasLimits && (
          <Judged batch={batch} typeId={type.id} chosen={place.query.get('sample')} />
        )}
        <section class="plate stack">
          <h2>Limits of {type.name}</h2>
          <LimitsEditor typeId={type.id} onSet={reload} />
        </section>
      </div>
    </>
  )
}

function pick<T extends { id: number }>(list: readonly T[], text: string | null): T | undefined {
  return text === null ? undefined : list.find(each => each.id === Number(text))
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

const FILES = ['pdf', 'html', 'csv', 'json'] as const

function Judged(props: {
  batch: SamplesOverview['batches'][number]
  typeId: number
  chosen: string | null
}) {
  const { batch, typeId, chosen } = props
  const query = { against: typeId }
  const loaded = useLoad('batch', { params: { batch: batch.id }, query })
  if (!loaded.data) {
    return loaded.fault ? <Trouble text={loaded.fault.message} /> : <Working text="Judging" />
  }
  const comparison = loaded.data as unknown as BatchComparison
  const { samples, counts } = comparison
  const at = samples.findIndex(sample => sample.motor === chosen)
  const open = (motor: string) => go(withQuery({ sample: motor }))
  const next = samples[at + 1]
  return (
    <>
      {comparison.warnings.map(text => (
        <Caution key={text}>
          <p>{text}</p>
        </Caution>
      ))}
      <section class="plate stack">
        <ScanField
          batchId={batch.id}
          typeId={typeId}
          samples={samples}
          onFound={open}
          onAdded={loaded.reload}
        />
        <div class="verdict-counts">
          <VerdictMark verdict="pass" text={`${counts.pass} pass`} />
          <VerdictMark verdict="fail" text={`${counts.fail} fail`} />
          <VerdictMark verdict="undecided" text={`${counts.undecided} undecided`} />
        </div>
        <div class="row">
          {FILES.map(format => (
            <a
              key={format}
              class="button"
              href={addressOf('batchReport', { params: { batch: batch.id, format }, query })}
              download
            >
              <Glyph name="save" width="20" /> Report {format.toUpperCase()}
            </a>
          ))}
        </div>
      </section>
      {at >= 0 && (
        <SampleDetail sample={samples[at]!} onNext={next ? () => open(next.motor) : null} />
      )}
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
      {comparison.quantities.map(quantity => (
        <SpreadPictures key={quantity.quantity} quantity={quantity} samples={samples} />
      ))}
      {comparison.bench.map(check => (
        <section key={`${check.motor} ${check.rig}`} class="plate stack">
          <h3>Check motor {check.motor}</h3>
          {check.charts.map(chart => (
            <CheckPicture key={chart.quantity} check={chart} />
          ))}
        </section>
      ))}
    </>
  )
}
