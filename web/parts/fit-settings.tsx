import { useState } from 'preact/hooks'
import { printedUnit } from '../../src/base/quantity-text.ts'
import type { FitBody, IdentificationPage } from '../../src/contract/http-motors.ts'
import type { BrushDropLaw, FrictionLaw } from '../../src/records/law.ts'
import { PARAMETER_FACTS, PARAMETERS, type ParameterName } from '../../src/records/parameter.ts'
import { KIND_WORDS } from '../display.ts'
import { NUMBER_PATTERN, typedNumber } from '../typed-number.ts'
import { Ending } from './basics.tsx'
import { usualOrder } from './fit-order.ts'

type Choice = { readonly how: 'by-evidence' | 'free' | 'fix'; readonly value: string }

/** Which runs and which parameters the next identification takes. */
export function FitSettings(props: {
  page: IdentificationPage
  isOpen: boolean
  onOpen: (isOpen: boolean) => void
  onStart: (order: FitBody) => void
}) {
  const { page, isOpen, onOpen, onStart } = props
  const [usual] = useState(() => usualOrder(page))
  const [taken, setTaken] = useState<ReadonlySet<number>>(() => new Set(usual.runs))
  const [choices, setChoices] = useState(() => choicesOf(usual))
  const [celsius, setCelsius] = useState(String(usual.referenceTemperatureCelsius))
  const [laws, setLaws] = useState<Laws>(usual)
  const runs = page.runs.filter(run => taken.has(run.id)).map(run => run.id)
  const submit = (event: Event) => {
    event.preventDefault()
    const fix: Record<string, number> = {}
    const free: string[] = []
    for (const [name, choice] of Object.entries(choices)) {
      if (choice.how === 'fix' && choice.value !== '') fix[name] = typedNumber(choice.value)
      if (choice.how === 'free') free.push(name)
    }
    const { robust, magnetPerKelvin } = usual
    const { brushDropLaw, frictionLaw } = laws
    const referenceTemperatureCelsius = Number(celsius)
    onStart({
      runs,
      fix,
      free,
      referenceTemperatureCelsius,
      brushDropLaw,
      frictionLaw,
      robust,
      magnetPerKelvin,
    })
  }
  return (
    <details class="plate" open={isOpen} onToggle={event => onOpen(event.currentTarget.open)}>
      <summary style={{ cursor: 'pointer', minHeight: '32px', fontWeight: 650 }}>
        Choose runs, hold or free parameters
      </summary>
      <form class="stack" style={{ marginTop: '14px' }} onSubmit={submit}>
        <fieldset style={{ border: 0, padding: 0, margin: 0 }}>
          <legend class="label">Runs taken</legend>
          <div class="choices">
            {page.runs.map(run => (
              <label key={run.id}>
                <input
                  type="checkbox"
                  checked={taken.has(run.id)}
                  onChange={() => setTaken(toggled(taken, run.id))}
                />
                <span>
                  {run.title || KIND_WORDS[run.kind]} <span class="quiet">run {run.id}</span>
                </span>
                {run.ending !== 'complete' && run.ending !== 'imported' && (
                  <Ending ending={run.ending} />
                )}
              </label>
            ))}
          </div>
        </fieldset>
        <div class="scroll-x">
          <table>
            <thead>
              <tr>
                <th scope="col">Parameter</th>
                <th scope="col">How</th>
                <th scope="col">Value held</th>
              </tr>
            </thead>
            <tbody>
              {PARAMETERS.map(name => {
                const facts = PARAMETER_FACTS[name]
                const choice = choices[name] ?? { how: 'by-evidence', value: '' }
                const set = (changes: Partial<Choice>) =>
                  setChoices({ ...choices, [name]: { ...choice, ...changes } })
                return (
                  <tr key={name}>
                    <th scope="row">{facts.label}</th>
                    <td>
                      <select
                        aria-label={`How to treat ${facts.label}`}
                        value={choice.how}
                        onChange={event => set({ how: event.currentTarget.value as Choice['how'] })}
                      >
                        <option value="by-evidence">as the data tell</option>
                        <option value="free">always fitted</option>
                        <option value="fix">held at a value</option>
                      </select>
                    </td>
                    <td>
                      {choice.how === 'fix' && (
                        <label class="row">
                          <span class="unseen">{facts.label} held at</span>
                          <input
                            style={{ width: '10rem' }}
                            inputMode="decimal"
                            required
                            pattern={NUMBER_PATTERN}
                            value={choice.value}
                            onInput={event => set({ value: event.currentTarget.value })}
                          />
                          {printedUnit(facts.unit)}
                        </label>
                      )}
                    </td>
                  </tr>
                )
              })}
            </tbody>
          </table>
        </div>
        <div class="row" style={{ alignItems: 'flex-end' }}>
          <Law
            label="Brush drop over current"
            words={DROP_WORDS}
            law={laws.brushDropLaw ?? ''}
            onChange={law => setLaws({ ...laws, brushDropLaw: law || undefined })}
          />
          <Law
            label="Friction in the two directions"
            words={FRICTION_WORDS}
            law={laws.frictionLaw ?? 'one'}
            onChange={frictionLaw => setLaws({ ...laws, frictionLaw })}
          />
        </div>
        <div class="row" style={{ alignItems: 'flex-end' }}>
          <label>
            <span class="label">Report R, L and k at, °C</span>
            <input
              style={{ width: '8rem' }}
              type="number"
              min="-60"
              max="200"
              step="any"
              value={celsius}
              onInput={event => setCelsius(event.currentTarget.value)}
            />
          </label>
          <button type="submit" class="first" disabled={runs.length === 0}>
            Identify with these
          </button>
        </div>
      </form>
    </details>
  )
}

type Laws = Pick<FitBody, 'brushDropLaw' | 'frictionLaw'>

const DROP_WORDS: Readonly<Record<BrushDropLaw | '', string>> = {
  '': 'as the data tell',
  tanh: 'rises with the current, then stays (tanh)',
  sgn: 'the same at any current (sgn)',
  none: 'none',
}

const FRICTION_WORDS: Readonly<Record<FrictionLaw, string>> = {
  one: 'the same both ways',
  'by-direction': 'its own for each direction',
}

function Law<T extends string>(props: {
  label: string
  words: Readonly<Record<T, string>>
  law: T
  onChange: (law: T) => void
}) {
  const { label, words, law, onChange } = props
  return (
    <label>
      <span class="label">{label}</span>
      <select value={law} onChange={event => onChange(event.currentTarget.value as T)}>
        {(Object.entries(words) as [T, string][]).map(([value, text]) => (
          <option key={value} value={value}>
            {text}
          </option>
        ))}
      </select>
    </label>
  )
}

function choicesOf({ fix, free }: Pick<Required<FitBody>, 'fix' | 'free'>) {
  const held = Object.entries(fix).map(([name, value]) => [
    name,
    { how: 'fix', value: String(value) },
  ])
  const freed = free.map(name => [name, { how: 'free', value: '' }])
  return Object.fromEntries([...held, ...freed]) as Partial<Record<ParameterName, Choice>>
}

function toggled(set: ReadonlySet<number>, one: number): ReadonlySet<number> {
  const next = new Set(set)
  if (!next.delete(one)) next.add(one)
  return next
}
