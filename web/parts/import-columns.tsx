import { readingText } from '../../src/base/quantity-text.ts'
import type { ColumnChoiceBody, ImportPreview } from '../../src/contract/http-runs.ts'
import type { Quantity } from '../../src/records/quantity.ts'
import { reading, SHOWN } from '../display.ts'
import { Glyph } from './glyph.tsx'

type Taken = ColumnChoiceBody['quantity']

const WORDS: Readonly<Record<Taken, string>> = {
  time: 'Time',
  bridge: 'Bridge state',
  ...(Object.fromEntries(
    Object.entries(SHOWN).map(([quantity, facts]) => [quantity, facts.label]),
  ) as Record<Quantity, string>),
}

interface ImportColumnsProps {
  readonly preview: ImportPreview
  /** As chosen by hand, also where they are not understood yet; null: as the header says. */
  readonly choices: readonly ColumnChoiceBody[] | null
  readonly invert: readonly string[]
  readonly busy: boolean
  onChange(columns: ColumnChoiceBody[] | null, invert: string[]): void
}

/** The first rows as they stand, and over each column what it is taken for. */
export function ImportColumns(props: ImportColumnsProps) {
  const { preview, choices, invert, busy, onChange } = props
  const found = (index: number) => preview.columns.find(column => column.index === index)
  const taken =
    choices ?? preview.columns.map(column => choiceOf(column.quantity, column.index, column.unit))
  const takenAs = (index: number) => taken.find(choice => choice.column === `#${index + 1}`)
  /** All columns as chosen, with one of them changed. */
  const choose = (index: number, quantity: Taken | '', unit: string | null) => {
    const others = taken.filter(
      choice => choice.column !== `#${index + 1}` && choice.quantity !== quantity,
    )
    const mine = quantity === '' ? [] : [choiceOf(quantity, index, unit)]
    onChange([...others, ...mine], [...invert])
  }
  const turn = (quantity: string) => {
    const turned = invert.includes(quantity)
      ? invert.filter(one => one !== quantity)
      : [...invert, quantity]
    onChange([...taken], turned)
  }
  return (
    <div class="scroll-x">
      <table class="columns">
        <thead>
          <tr>
            {preview.header.map((header, index) => {
              const column = takenAs(index)
              return (
                <th key={index} scope="col" class={column ? 'taken' : ''}>
                  <p style={{ overflowWrap: 'anywhere' }}>{header || `column ${index + 1}`}</p>
                  <select
                    aria-label={`What column ${header || index + 1} holds`}
                    disabled={busy}
                    value={column?.quantity ?? ''}
                    onChange={event =>
                      choose(
                        index,
                        event.currentTarget.value as Taken | '',
                        column ? spelled(column) : null,
                      )
                    }
                  >
                    <option value="">left out</option>
                    {Object.entries(WORDS).map(([quantity, text]) => (
                      <option key={quantity} value={quantity}>
                        {text}
                      </option>
                    ))}
                  </select>
                  {column && column.quantity !== 'bridge' && (
                    <UnitBox
                      key={`${column.quantity}/${spelled(column)}`}
                      unit={spelled(column)}
                      busy={busy}
                      onUnit={unit => choose(index, column.quantity, unit)}
                    />
                  )}
                </th>
              )
            })}
          </tr>
        </thead>
        <tbody class="small">
          {preview.rows.map((row, place) => (
            <tr key={place}>
              {preview.header.map((_, index) => (
                <td key={index} class={takenAs(index) ? '' : 'quiet'}>
                  {row[index] ?? ''}
                </td>
              ))}
            </tr>
          ))}
          {preview.columns.length > 0 && (
            <tr>
              {preview.header.map((header, index) => {
                const column = found(index)
                return (
                  <td key={index}>
                    {column && <Span column={column} />}
                    {column && column.quantity !== 'time' && column.quantity !== 'bridge' && (
                      <label class="row" style={{ gap: '8px', minHeight: '44px' }}>
                        <input
                          type="checkbox"
                          disabled={busy}
                          checked={invert.includes(column.quantity)}
                          aria-label={`Turn the sign of ${header} round`}
                          onChange={() => turn(column.quantity)}
                        />
                        sign turned round
                      </label>
                    )}
                  </td>
                )
              })}
            </tr>
          )}
        </tbody>
      </table>
    </div>
  )
}

/** By place, so that columns of one name can be told apart. */
function choiceOf(quantity: Taken, index: number, unit: string | null): ColumnChoiceBody {
  const [spelling, probe] = splitProbe(unit)
  return {
    quantity,
    column: `#${index + 1}`,
    unit: quantity === 'bridge' ? null : spelling,
    perSiUnit: probe,
  }
}

/** The unit as it is typed: with the scale of its probe. */
const spelled = ({ unit, perSiUnit }: ColumnChoiceBody): string =>
  (unit ?? '') + (perSiUnit === null ? '' : `/${perSiUnit}`)

/** `mV/50`: a probe of 50 mV to the unit. Slashes of units such as rad/s stay. */
function splitProbe(unit: string | null): [string | null, number | null] {
  const match = /^(.*)\/\s*([0-9.]+)\s*$/.exec(unit ?? '')
  return match ? [match[1]!, Number(match[2])] : [unit === '' ? null : unit, null]
}

function UnitBox(props: { unit: string; busy: boolean; onUnit: (unit: string) => void }) {
  return (
    <label>
      <span class="label">unit, or unit/scale of a probe</span>
      <input
        disabled={props.busy}
        defaultValue={props.unit}
        onChange={event => props.onUnit(event.currentTarget.value.trim())}
      />
    </label>
  )
}

function Span({ column }: { column: ImportPreview['columns'][number] }) {
  if (column.quantity === 'bridge') return null
  if (column.lowest === null || column.highest === null) {
    return (
      <span class="stamp" data-tone="warn">
        <Glyph name="warn" /> no number
      </span>
    )
  }
  const { quantity } = column
  const text = (value: number) =>
    quantity === 'time' ? readingText(value, 's', 4).text : reading(quantity, value, 4).text
  return (
    <p>
      {text(column.lowest)} to {text(column.highest)}
      {column.gaps !== null && column.gaps > 0 && <span class="quiet"> ({column.gaps} gaps)</span>}
    </p>
  )
}
