import { useEffect, useId, useState } from 'preact/hooks'
import { typedNumber } from '../typed-number.ts'

/** A number that a view asks for and keeps in its address: counts once the field is left, or at Enter. */
export function AskedNumber(props: {
  /** With the unit. */
  label: string
  value: number | null
  least: number
  most: number
  /** True where nothing may be entered. */
  optional?: boolean
  onSettle: (value: number | null) => void
}) {
  const { label, value, least, most, optional = false, onSettle } = props
  const id = useId()
  const [text, setText] = useState(shownText(value))
  useEffect(() => setText(shownText(value)), [value])
  const fault = faultOf(text, least, most, optional)
  const settle = () => {
    if (fault !== null) return
    const typed = typedNumber(text)
    const next = Number.isNaN(typed) ? null : typed
    if (next !== value) onSettle(next)
  }
  return (
    <div>
      <label class="label" for={id}>
        {label}
      </label>
      <input
        id={id}
        inputMode="decimal"
        autocomplete="off"
        value={text}
        aria-invalid={fault !== null}
        aria-describedby={fault === null ? undefined : `${id}-fault`}
        onInput={event => setText(event.currentTarget.value)}
        onBlur={settle}
        onKeyDown={event => event.key === 'Enter' && settle()}
      />
      {fault !== null && (
        <p class="field-fault" id={`${id}-fault`}>
          {fault}
        </p>
      )}
    </div>
  )
}

const shownText = (value: number | null) =>
  value === null ? '' : String(Number(value.toPrecision(6))).replace('-', '−')

function faultOf(text: string, least: number, most: number, optional: boolean): string | null {
  if (optional && text.trim() === '') return null
  const value = typedNumber(text)
  return value >= least && value <= most ? null : `Needs a number from ${least} to ${most}.`
}
