import '../style/motors.css'
import { useEffect, useState } from 'preact/hooks'
import { quantityText } from '../../src/base/quantity-text.ts'
import type { MotorSummary, MotorView } from '../../src/contract/http-motors.ts'
import { PARAMETER_FACTS, type ParameterName } from '../../src/records/parameter.ts'
import { call } from '../api.ts'
import type { ViewProps } from '../app.tsx'
import { moment } from '../display.ts'
import { Blank, Figure, Trouble, Working } from '../parts/basics.tsx'
import { Glyph } from '../parts/glyph.tsx'
import { go, takeFocus, withQuery } from '../router.ts'
import { useLoad } from '../state/load.ts'
import { tell } from '../state/live.ts'
import { usePageTitle } from '../state/title.ts'

/** All motors as name plates: what was read on them, and what was found of them. */
export function Motors({ place }: ViewProps) {
  const find = place.query.get('find') ?? ''
  const { data, fault, reload } = useLoad('motors', { query: { find } })
  const [adding, setAdding] = useState(false)
  usePageTitle('Motors')
  const empty = data && data.motors.length === 0
  return (
    <>
      <header class="head">
        <h1>Motors</h1>
        <div class="row">
          <FindBox find={find} />
          <button type="button" onClick={() => setAdding(!adding)} aria-expanded={adding}>
            <Glyph name="plus" width="22" /> New motor
          </button>
        </div>
      </header>
      <div class="stack">
        {fault && <Trouble text={fault.message} />}
        {adding && <NewMotor onDone={motor => go(`/motors/${motor.id}`)} />}
        {!data && !fault && <Working />}
        {empty && find !== '' && (
          <Blank glyph="eye" title={`No motor matches “${find}”`}>
            <p>Names, lots, serial numbers and notes were looked through.</p>
            <a class="button" href="/motors">
              Show all motors
            </a>
          </Blank>
        )}
        {empty && find === '' && (
          <Blank glyph="motors" title="No motors yet">
            <p>
              Log the first one at the bench (a practice rig is there to try it on), or bring in a
              recording made elsewhere.
            </p>
            <div class="row">
              <a class="button first" href="/bench">
                To the bench
              </a>
              <a class="button" href="/import">
                Import a recording
              </a>
            </div>
          </Blank>
        )}
        {data && !empty && (
          <ul class="motor-grid">
            {data.motors.map(motor => (
              <li key={motor.id}>
                <MotorPlate motor={motor} />
              </li>
            ))}
          </ul>
        )}
        {data && data.deleted.length > 0 && <DeletedMotors motors={data.deleted} onBack={reload} />}
      </div>
    </>
  )
}

function FindBox({ find }: { find: string }) {
  const [text, setText] = useState(find)
  useEffect(() => {
    if (text === find) return
    const timer = setTimeout(() => go(withQuery({ find: text }), { replace: true }), 200)
    return () => clearTimeout(timer)
  }, [text, find])
  useEffect(() => takeFocus('find'), [])
  return (
    <label>
      <span class="unseen">Find a motor</span>
      <input
        id="find"
        type="search"
        placeholder="Find: name, lot, serial number"
        size={28}
        value={text}
        onInput={event => setText(event.currentTarget.value)}
      />
    </label>
  )
}

function MotorPlate({ motor }: { motor: MotorSummary }) {
  const { fit } = motor
  return (
    <a class="plate rivets motor-plate" href={`/motors/${motor.id}`}>
      <h2>{motor.name}</h2>
      <p class="quiet small">
        {[
          motor.type,
          motor.lot && `lot ${motor.lot}`,
          motor.serialNumber && `no. ${motor.serialNumber}`,
        ]
          .filter(Boolean)
          .join(' · ') || 'no plate data'}
      </p>
      {fit ? (
        <dl class="engraved">
          {fit.headlines.map(line => {
            const facts = PARAMETER_FACTS[line.parameter as ParameterName]
            const { number, unit } = quantityText(line.value, line.unit, line.standardUncertainty)
            return (
              <div key={line.parameter}>
                <dt>{facts.label}</dt>
                <dd>
                  {line.value === null ? (
                    <span class="quiet">not determined</span>
                  ) : (
                    <Figure number={number} unit={unit} />
                  )}
                </dd>
              </div>
            )
          })}
        </dl>
      ) : (
        <p class="quiet">{motor.runCount > 0 ? 'Not identified yet' : 'No runs yet'}</p>
      )}
      <p class="quiet small">
        {motor.runCount === 1 ? '1 run' : `${motor.runCount} runs`}
        {motor.lastRunAt && `, the latest ${moment(motor.lastRunAt)}`}
      </p>
    </a>
  )
}

function NewMotor({ onDone }: { onDone: (motor: MotorView) => void }) {
  const [name, setName] = useState('')
  const [fault, setFault] = useState<string | null>(null)
  const submit = (event: Event) => {
    event.preventDefault()
    call('addMotor', { body: { name } }).then(onDone, error => setFault(error.message))
  }
  return (
    <form class="plate stack" onSubmit={submit}>
      <div class="row" style={{ alignItems: 'flex-end' }}>
        <label style={{ flex: '1 1 260px' }}>
          <span class="label">Name on the bench</span>
          {/* The person has just asked for this field. */}
          <input value={name} onInput={event => setName(event.currentTarget.value)} ref={focus} />
        </label>
        <button type="submit" class="first" disabled={name.trim() === ''}>
          Add motor
        </button>
      </div>
      {fault && <Trouble text={fault} />}
    </form>
  )
}

const focus = (element: HTMLInputElement | null) => {
  element?.focus()
}

function DeletedMotors({ motors, onBack }: { motors: readonly MotorView[]; onBack: () => void }) {
  const restore = (motor: MotorView) =>
    call('restoreMotor', { params: { motor: motor.id } }).then(onBack, fault =>
      tell(fault.message, 'bad'),
    )
  return (
    <details>
      <summary style={{ minHeight: '44px', cursor: 'pointer' }}>
        {motors.length === 1 ? '1 deleted motor' : `${motors.length} deleted motors`}
      </summary>
      <table>
        <tbody>
          {motors.map(motor => (
            <tr key={motor.id}>
              <th scope="row">{motor.name}</th>
              <td class="quiet">deleted {motor.deletedAt && moment(motor.deletedAt)}</td>
              <td>
                <button type="button" onClick={() => restore(motor)}>
                  Bring back
                </button>
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </details>
  )
}
