import { quantityText } from '../../src/base/quantity-text.ts'
import type { Finding, OperatingPoint } from '../../src/contract/withstand-document.ts'
import {
  BASIS_WORDS,
  cornerText,
  POINT_COLUMNS,
  pointQuantity,
} from '../../src/output/findings-text.ts'
import { sentence } from '../display.ts'
import { Figure } from './basics.tsx'

/** What the drive must withstand: number, formula, and on demand what went into it and where it holds. */
export function FindingsTable({ findings }: { findings: readonly Finding[] }) {
  const told = findings.filter(finding => finding.value !== null)
  const untold = findings.filter(finding => finding.value === null)
  return (
    <>
      <table class="findings">
        <thead>
          <tr>
            <th scope="col">What</th>
            <th scope="col">Value</th>
            <th scope="col">How it was found</th>
          </tr>
        </thead>
        <tbody>
          {told.map(finding => (
            <FindingRow key={finding.id} finding={finding} />
          ))}
        </tbody>
      </table>
      {untold.length > 0 && (
        <section aria-label="Not told">
          <h3>Not told</h3>
          <ul class="untold">
            {untold.map(({ id, label, reason }) => (
              <li key={id}>
                {label}: <span class="quiet">{reason}</span>
              </li>
            ))}
          </ul>
        </section>
      )}
    </>
  )
}

function FindingRow({ finding }: { finding: Finding }) {
  const { label, unit, value, standardUncertainty, formula, inputs, validity, basis } = finding
  const shown = quantityText(value, unit, standardUncertainty)
  return (
    <tr>
      <th scope="row">
        {label}
        {BASIS_WORDS[basis] !== '' && <span class="basis">{BASIS_WORDS[basis]}</span>}
      </th>
      <td>
        <Figure number={shown.number} unit={shown.unit} />
      </td>
      <td>
        <details>
          <summary>{formula}</summary>
          <p class="small">
            {inputs.length > 0 && `With ${inputs.map(inputText).join(', ')}. `}
            {sentence(`holds for: ${validity}`)}
          </p>
        </details>
      </td>
    </tr>
  )
}

const inputText = ({ name, value, unit, standardUncertainty }: Finding['inputs'][number]) =>
  `${name} ${quantityText(value, unit, standardUncertainty).text}`

/** The duty stands with the bridge's voltage: a column less on a narrow screen. */
const COLUMNS = POINT_COLUMNS.filter(column => column.of !== 'duty')

const dutyText = (point: OperatingPoint) => `${Math.round(100 * (point.values?.duty.value ?? 0))} %`

/** Where the motor works in the quadrants of the drive. */
export function OperatingPoints({ points }: { points: readonly OperatingPoint[] }) {
  const reached = points.filter(point => point.values !== null)
  const missed = points.filter(point => point.values === null)
  const ways = [...new Map(points.map(point => [point.action, point])).values()]
  return (
    <>
      {reached.length > 0 && (
        <table class="points">
          <thead>
            <tr>
              <th scope="col">Operating point</th>
              {COLUMNS.map(({ of, title }) => (
                <th scope="col" key={of}>
                  {sentence(title).replace(/\.$/, '')}
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {reached.map(point => (
              <tr key={`${point.label}-${point.supply}`}>
                <th scope="row">
                  {point.label}
                  <span class="small quiet corner">{cornerText(point)}</span>
                </th>
                {COLUMNS.map(column => {
                  const { number, unit } = pointQuantity(point, column)
                  return (
                    <td key={column.of}>
                      <span class="number">{number}</span>
                      <span class="unit quiet">
                        {' '}
                        {unit}
                        {column.of === 'bridgeVoltage' && `, ${dutyText(point)}`}
                      </span>
                    </td>
                  )
                })}
              </tr>
            ))}
          </tbody>
        </table>
      )}
      <dl class="ways">
        {ways.map(({ action, label, formula, validity }) => (
          <div key={action}>
            <dt>{sentence(label.slice(label.indexOf(', ') + 2)).replace(/\.$/, '')}</dt>
            <dd class="small">
              {formula}. <span class="quiet">{sentence(`holds for: ${validity}`)}</span>
            </dd>
          </div>
        ))}
      </dl>
      {missed.length > 0 && (
        <ul class="untold">
          {missed.map(point => (
            <li key={`${point.label}-${point.supply}`}>
              {point.label}, {cornerText(point)}: <span class="quiet">{point.reason}</span>
            </li>
          ))}
        </ul>
      )}
    </>
  )
}
