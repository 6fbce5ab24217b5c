import type { RefObject } from 'preact'
import { useEffect, useState } from 'preact/hooks'
import type { SampleVerdict } from '../../src/quality/verdict.ts'
import { call } from '../api.ts'
import { tell } from '../state/live.ts'

/**
 * Where a bar-code scanner types. A number in the batch opens its sample; another one joins the batch.
 * Keeps the focus, so that the next scan needs no hand on the keyboard.
 */
export function ScanField(props: {
  field: RefObject<HTMLInputElement | null>
  batchId: number
  typeId: number
  samples: readonly SampleVerdict[]
  onFound: (motor: string) => void
  onAdded: () => void
}) {
  const [number, setNumber] = useState('')
  const { field } = props
  useEffect(() => field.current?.focus(), [])
  const scan = async (event: Event) => {
    event.preventDefault()
    const serialNumber = number.trim()
    if (serialNumber === '') return
    setNumber('')
    field.current?.focus()
    const known = props.samples.filter(sample => sample.serialNumber === serialNumber)
    if (known.length === 1) return props.onFound(known[0]!.motor)
    try {
      const { motor, isNew } = await call('scanSample', {
        params: { batch: props.batchId },
        body: { serialNumber, type: props.typeId },
      })
      tell(
        `${serialNumber} ${isNew ? 'is new and has' : 'has'} joined the batch. Test it now.`,
        'plain',
      )
      props.onAdded()
      props.onFound(motor)
    } catch (fault) {
      tell((fault as Error).message, 'bad')
    }
  }
  return (
    <form class="scan" onSubmit={scan}>
      <label>
        Serial number (scan or type)
        <input
          ref={field}
          value={number}
          autocomplete="off"
          spellcheck={false}
          onInput={event => setNumber(event.currentTarget.value)}
        />
      </label>
      <button type="submit" class="first">
        Find
      </button>
    </form>
  )
}
