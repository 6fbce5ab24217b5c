import type { ComponentChildren } from 'preact'
import { quantityText } from '../../src/base/quantity-text.ts'
import type { QuantityVerdict } from '../../src/quality/quantity-verdict.ts'
import type { SampleVerdict } from '../../src/quality/verdict.ts'
import { VerdictMark } from './verdict.tsx'

const show = (value: number | null, unit: string) =>
  value === null ? '' : quantityText(value, unit).text

/** One sample: its verdict large, what stands out, and each quantity against its limits. */
export function SampleDetail({
  sample,
  onNext,
  children,
}: {
  sample: SampleVerdict
  onNext: (() => void) | null
  /** What can be done about it. */
  children?: ComponentChildren
}) {
  return (
    <section class="plate stack" aria-label={`Sample ${sample.motor}`}>
      <div class="row" style={{ justifyContent: 'space-between' }}>
        <h2>
          {sample.motor}
          {sample.serialNumber !== '' && sample.serialNumber !== sample.motor
            ? `, ${sample.serialNumber}`
            : ''}
        </h2>
        {onNext && (
          <button type="button" onClick={onNext}>
            Next
          </button>
        )}
      </div>
      <p role="status">
        <VerdictMark verdict={sample.verdict} big />
      </p>
      {sample.standsOut.length > 0 && (
        <ul>
          {sample.standsOut.map(text => (
            <li key={text}>{text}</li>
          ))}
        </ul>
      )}
      {sample.warnings.map(text => (
        <p key={text}>{text}</p>
      ))}
      <div class="samples-scroll">
        <table class="samples-table">
          <thead>
            <tr>
              <th scope="col">Verdict</th>
              <th scope="col">Quantity</th>
              <th scope="col" class="number">
                Value
              </th>
              <th scope="col" class="number">
                Limits
              </th>
              <th scope="col" class="number">
                Conforms with
              </th>
              <th scope="col" class="number">
                Test uncertainty ratio
              </th>
            </tr>
          </thead>
          <tbody>
            {sample.quantities.map(q => (
              <Row key={q.quantity} q={q} />
            ))}
          </tbody>
        </table>
      </div>
      {children}
    </section>
  )
}

function Row({ q }: { q: QuantityVerdict }) {
  return (
    <tr>
      <td>
        <VerdictMark verdict={q.verdict} />
      </td>
      <th scope="row">
        {q.label}
        {q.remark !== '' && <div class="quiet">{q.remark}</div>}
      </th>
      <td class="number">
        {show(q.value, q.unit)}
        {q.standardUncertainty ? ` ± ${show(2 * q.standardUncertainty, q.unit)}` : ''}
      </td>
      <td class="number">
        {show(q.band.lower, q.unit)} … {show(q.band.upper, q.unit)}
      </td>
      <td class="number">{q.conformity === null ? '' : `${(100 * q.conformity).toFixed(1)} %`}</td>
      <td class="number">{q.uncertaintyRatio?.toPrecision(2) ?? ''}</td>
    </tr>
  )
}
