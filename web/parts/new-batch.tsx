import { useState } from 'preact/hooks'
import { call } from '../api.ts'
import { go, withQuery } from '../router.ts'
import { Trouble } from './basics.tsx'

/** Makes a batch of samples of a type, and opens it. */
export function NewBatch(props: {
  type: { id: number; name: string }
  isFirst: boolean
  onMade: () => void
}) {
  const { type, isFirst, onMade } = props
  const [name, setName] = useState('')
  const [fault, setFault] = useState<string | null>(null)
  const make = async (event: Event) => {
    event.preventDefault()
    try {
      const { id } = await call('addBatch', { body: { name: name.trim(), type: type.id } })
      setName('')
      setFault(null)
      go(withQuery({ batch: id, type: type.id, sample: null }))
      onMade()
    } catch (error) {
      setFault((error as Error).message)
    }
  }
  const form = (
    <form class="stack" onSubmit={make}>
      <label>
        <span class="label">Name of the new batch of {type.name}</span>
        <input
          value={name}
          placeholder="as on the delivery note"
          autocomplete="off"
          onInput={event => setName(event.currentTarget.value)}
        />
      </label>
      {fault && <Trouble text={fault} />}
      <div class="row">
        <button type="submit" class={isFirst ? 'first' : ''} disabled={name.trim() === ''}>
          Make the batch
        </button>
      </div>
    </form>
  )
  return isFirst ? (
    <section class="plate stack">
      <h2>No batch yet</h2>
      <p>A batch is what is judged together: a delivery, a lot.</p>
      {form}
    </section>
  ) : (
    <details class="plate">
      <summary>New batch</summary>
      {form}
    </details>
  )
}
