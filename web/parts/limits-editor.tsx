import { useState } from 'preact/hooks'
import { quantityText } from '../../src/base/quantity-text.ts'
import type { LimitsPage } from '../../src/contract/http-samples.ts'
import { call } from '../api.ts'
import { moment } from '../display.ts'
import { Trouble } from './basics.tsx'

type LimitSet = LimitsPage['sets'][number]

/** The limits in force, how to set new ones, and the earlier ones. */
export function LimitsEditor({ page, onSet }: { page: LimitsPage; onSet: () => void }) {
  const [current, ...earlier] = page.sets
  return (
    <div class="stack">
      {current ? <SetTable page={page} set={current} /> : <p>This type has no limits yet.</p>}
      <details>
        <summary>Set new limits</summary>
        <NewLimits page={page} onDone={onSet} />
      </details>
      {earlier.length > 0 && (
        <details>
          <summary>Earlier limits ({earlier.length}); they are never changed</summary>
          <div class="stack">
            {earlier.map(set => (
              <SetTable key={set.id} page={page} set={set} />
            ))}
          </div>
        </details>
      )}
    </div>
  )
}

function SetTable({ page, set }: { page: LimitsPage; set: LimitSet }) {
  const label = (name: string) => page.quantities.find(q => q.quantity === name)?.label ?? name
  return (
    <div class="samples-scroll">
      <p>
        Set {moment(set.setAt)} by {set.author}: {set.reason}. At {set.referenceTemperatureCelsius}{' '}
        °C, reference: {set.reference.join(', ') || 'none'}.
      </p>
      <table class="samples-table">
        <thead>
          <tr>
            <th scope="col">Quantity</th>
            <th scope="col" class="number">
              Lower
            </th>
            <th scope="col" class="number">
              Upper
            </th>
          </tr>
        </thead>
        <tbody>
          {set.limits.map(limit => (
            <tr key={limit.quantity}>
              <th scope="row">{label(limit.quantity)}</th>
              <td class="number">{endText(limit, limit.lower)}</td>
              <td class="number">{endText(limit, limit.upper)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  )
}

function endText(limit: LimitSet['limits'][number], value: number | null): string {
  if (value === null) return 'none'
  if (limit.basis === 'absolute') return quantityText(value, limit.unit).text
  return `${value > 0 ? '+' : ''}${value} ${limit.basis === 'percent' ? '%' : 'sigma'}`
}

function NewLimits({ page, onDone }: { page: LimitsPage; onDone: () => void }) {
  const [reference, setReference] = useState<number[]>([])
  const [lines, setLines] = useState('resistance=-5%..+5%\ncoulombTorque=..+20%')
  const [author, setAuthor] = useState('')
  const [reason, setReason] = useState('')
  const [fault, setFault] = useState<string | null>(null)
  const save = async (event: Event) => {
    event.preventDefault()
    const limits = lines
      .split('\n')
      .map(line => line.trim())
      .filter(line => line !== '')
    try {
      await call('setLimits', {
        params: { type: page.type.id },
        body: { reference, limits, author, reason },
      })
      setFault(null)
      onDone()
    } catch (error) {
      setFault((error as Error).message)
    }
  }
  return (
    <form class="stack" onSubmit={save}>
      <fieldset>
        <legend>Reference: one approved motor, or several as a pool</legend>
        {page.motors.length === 0 && <p>No motor of this type has been identified yet.</p>}
        {page.motors.map(motor => (
          <label key={motor.id} class="row">
            <input
              type="checkbox"
              checked={reference.includes(motor.id)}
              onChange={event =>
                setReference(
                  event.currentTarget.checked
                    ? [...reference, motor.id]
                    : reference.filter(id => id !== motor.id),
                )
              }
            />
            {motor.name}
          </label>
        ))}
      </fieldset>
      <label>
        Limits, one a line: name=lower..upper, in %, in s (sigmas of the pool) or in SI
        <textarea
          class="limit-lines"
          value={lines}
          spellcheck={false}
          onInput={event => setLines(event.currentTarget.value)}
        />
      </label>
      <p>
        Names: {page.quantities.map(q => q.quantity).join(', ')}. Entries typed by hand carry their
        unit: insulation [Mohm]=10..
      </p>
      <label>
        Author
        <input required value={author} onInput={event => setAuthor(event.currentTarget.value)} />
      </label>
      <label>
        Reason
        <input required value={reason} onInput={event => setReason(event.currentTarget.value)} />
      </label>
      {fault && <Trouble text={fault} />}
      <div class="row">
        <button type="submit" class="first">
          Set from now on
        </button>
      </div>
    </form>
  )
}
