import { useState } from 'preact/hooks'
import type { SampleVerdict } from '../../src/quality/verdict.ts'
import { call } from '../api.ts'
import { Trouble } from './basics.tsx'

/** Readings off other instruments (insulation, noise, end play) that the limits ask for. */
export function HandEntry(props: {
  sample: SampleVerdict
  /** Quantities of the limits that come from no fit. */
  asked: readonly { quantity: string; unit: string }[]
  onEntered: () => void
}) {
  const { sample, asked, onEntered } = props
  const [quantity, setQuantity] = useState(asked[0]?.quantity ?? '')
  const [value, setValue] = useState('')
  const [author, setAuthor] = useState('')
  const [fault, setFault] = useState<string | null>(null)
  const chosen = asked.find(each => each.quantity === quantity) ?? asked[0]
  if (!chosen) return null
  const number = Number(value.replace(',', '.'))
  const enter = async (event: Event) => {
    event.preventDefault()
    try {
      await call('enterByHand', {
        body: { motor: sample.motor, ...chosen, value: number, author: author.trim() },
      })
      setValue('')
      setFault(null)
      onEntered()
    } catch (error) {
      setFault((error as Error).message)
    }
  }
  const ready = value.trim() !== '' && Number.isFinite(number) && author.trim() !== ''
  return (
    <details>
      <summary>Type in a reading</summary>
      <form class="stack" onSubmit={enter}>
        <div class="row">
          <label class="pick">
            <span class="label">Reading</span>
            <select
              value={chosen.quantity}
              onChange={event => setQuantity(event.currentTarget.value)}
            >
              {asked.map(each => (
                <option key={each.quantity} value={each.quantity}>
                  {each.quantity}
                </option>
              ))}
            </select>
          </label>
          <label class="pick">
            <span class="label">Value, {chosen.unit}</span>
            <input
              inputMode="decimal"
              value={value}
              autocomplete="off"
              onInput={event => setValue(event.currentTarget.value)}
            />
          </label>
          <label class="pick">
            <span class="label">Read by</span>
            <input value={author} onInput={event => setAuthor(event.currentTarget.value)} />
          </label>
        </div>
        {fault && <Trouble text={fault} />}
        <div class="row">
          <button type="submit" disabled={!ready}>
            Enter
          </button>
        </div>
      </form>
    </details>
  )
}
