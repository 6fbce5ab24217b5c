import type { HeatNumber } from '../../src/contract/heat-document.ts'
import { heatInterval, heatQuantity } from '../../src/output/heat-text.ts'
import { sentence } from '../display.ts'
import { Figure } from './basics.tsx'
import { IntervalPicture } from './interval-picture.tsx'

/** Numbers of the heat with uncertainty and 95 % interval, or why there is none. */
export function HeatTable(props: {
  title: string
  numbers: readonly HeatNumber[]
  /** Scale of the drawn intervals, as a share of the value. */
  reach: number
}) {
  const { title, numbers, reach } = props
  return (
    <div class="scroll-x">
      <table class="parameters" aria-label={title}>
        <thead>
          <tr>
            <th scope="col">{title}</th>
            <th scope="col">Value (standard uncertainty)</th>
            <th scope="col" class="beside">
              95 % interval
            </th>
            <th scope="col" class="picture">
              Drawn about the value
            </th>
          </tr>
        </thead>
        <tbody>
          {numbers.map(number => (
            <Row key={number.label} number={number} reach={reach} />
          ))}
        </tbody>
      </table>
    </div>
  )
}

function Row({ number, reach }: { number: HeatNumber; reach: number }) {
  const { label, formula } = number
  const head = (
    <th scope="row">
      {label}
      <span class="quiet small" style={{ display: 'block', fontWeight: 400 }}>
        {formula}
      </span>
    </th>
  )
  if (number.value === null) {
    return (
      <tr class="left-out">
        {head}
        <td colSpan={3} class="reason">
          Not determined. {sentence(number.reason ?? '')}.
        </td>
      </tr>
    )
  }
  const shown = heatQuantity(number)
  const interval = heatInterval(number)
  return (
    <tr>
      {head}
      <td>
        <Figure number={shown.number} unit={shown.unit} />
        <span class="below small">{interval}</span>
      </td>
      <td class="number beside">{interval}</td>
      <td class="picture">
        <IntervalPicture label={label} result={number} other={null} own={[]} reach={reach} />
      </td>
    </tr>
  )
}
