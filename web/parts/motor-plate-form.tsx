import { useState } from 'preact/hooks'
import type { MotorView } from '../../src/contract/http-motors.ts'
import { call } from '../api.ts'
import { Trouble } from './basics.tsx'
import { Glyph } from './glyph.tsx'

const FIELDS = [
  { key: 'name', label: 'Name on the bench' },
  { key: 'serialNumber', label: 'Serial number' },
  { key: 'lot', label: 'Lot' },
] as const

/** The plate of one specimen: what is known of it, and the same as a form. */
export function MotorPlate({ motor, onChange }: { motor: MotorView; onChange: () => void }) {
  const [editing, setEditing] = useState(false)
  if (editing) {
    return (
      <PlateForm
        motor={motor}
        onDone={() => {
          setEditing(false)
          onChange()
        }}
        onLeave={() => setEditing(false)}
      />
    )
  }
  const facts = [
    ['Type', motor.type ?? ''],
    ['Serial number', motor.serialNumber],
    ['Lot', motor.lot],
    ['Plate as read', motor.nameplate],
    ['Notes', motor.notes],
  ].filter(([, value]) => value !== '')
  return (
    <section class="plate rivets row apart" aria-label="Plate">
      {facts.length > 0 ? (
        <dl class="engraved" style={{ flex: 1 }}>
          {facts.map(([label, value]) => (
            <div key={label}>
              <dt>{label}</dt>
              <dd style={{ whiteSpace: 'pre-line' }}>{value}</dd>
            </div>
          ))}
        </dl>
      ) : (
        <p class="quiet">Nothing is written on this plate yet.</p>
      )}
      <button type="button" onClick={() => setEditing(true)}>
        <Glyph name="pen" width="20" /> Write
      </button>
    </section>
  )
}

function PlateForm(props: { motor: MotorView; onDone: () => void; onLeave: () => void }) {
  const { motor } = props
  const [draft, setDraft] = useState({
    name: motor.name,
    serialNumber: motor.serialNumber,
    lot: motor.lot,
    nameplate: motor.nameplate,
    notes: motor.notes,
  })
  const [fault, setFault] = useState<string | null>(null)
  const set = (key: keyof typeof draft) => (event: Event) =>
    setDraft({ ...draft, [key]: (event.currentTarget as HTMLInputElement).value })
  const submit = (event: Event) => {
    event.preventDefault()
    call('changeMotor', { params: { motor: motor.id }, body: draft }).then(props.onDone, error =>
      setFault(error.message),
    )
  }
  return (
    <form class="plate stack" onSubmit={submit}>
      <div class="row">
        {FIELDS.map(({ key, label }) => (
          <label key={key} style={{ flex: '1 1 200px' }}>
            <span class="label">{label}</span>
            <input value={draft[key]} onInput={set(key)} />
          </label>
        ))}
      </div>
      <label>
        <span class="label">Plate as read</span>
        <textarea rows={2} value={draft.nameplate} onInput={set('nameplate')} />
      </label>
      <label>
        <span class="label">Notes</span>
        <textarea rows={3} value={draft.notes} onInput={set('notes')} />
      </label>
      {fault && <Trouble text={fault} />}
      <div class="row">
        <button type="submit" class="first">
          Keep
        </button>
        <button type="button" onClick={props.onLeave}>
          Leave as it was
        </button>
      </div>
    </form>
  )
}
