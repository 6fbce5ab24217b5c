import { useState } from 'preact/hooks'
import type { StudyPage } from '../../src/contract/http-samples.ts'
import { go, withQuery } from '../router.ts'

/** Fewest of each that the analysis needs, and what is usual. Common practice, no source. */
const USUAL = '10 motors, 3 operators and 2 or 3 trials are usual; 2 of each are the fewest.'

/** Who measures which motors how often. */
export function StudyPlanForm({ page }: { page: StudyPage }) {
  const [study, setStudy] = useState('')
  const [operators, setOperators] = useState('')
  const [motors, setMotors] = useState<number[]>([])
  const [trials, setTrials] = useState(2)
  const names = [
    ...new Set(
      operators
        .split(/[\n;,]/)
        .map(name => name.trim())
        .filter(name => name !== ''),
    ),
  ]
  const ready = study.trim() !== '' && names.length >= 2 && motors.length >= 2
  const begin = (event: Event) => {
    event.preventDefault()
    if (!ready) return
    go(
      withQuery({
        study: study.trim(),
        operators: names.join(';'),
        motors: motors.join(';'),
        trials,
      }),
    )
  }
  return (
    <form class="plate stack" onSubmit={begin}>
      <h2>A new study</h2>
      <p>
        Does a difference between two samples come from the motors, or from who measures and how?
        Several operators measure the same motors over and over. {USUAL}
      </p>
      <label>
        <span class="label">Name of the study</span>
        <input
          value={study}
          placeholder="e.g. bench 2, spring"
          autocomplete="off"
          onInput={event => setStudy(event.currentTarget.value)}
        />
      </label>
      <label>
        <span class="label">Operators, one a line</span>
        <textarea
          rows={3}
          value={operators}
          onInput={event => setOperators(event.currentTarget.value)}
        />
      </label>
      <fieldset>
        <legend>Motors of {page.type.name}, chosen over the range of the delivery</legend>
        {page.motors.length === 0 && <p>No motor has this type yet.</p>}
        <div class="study-motors">
          {page.motors.map(motor => (
            <label key={motor.id} class="row">
              <input
                type="checkbox"
                checked={motors.includes(motor.id)}
                onChange={event =>
                  setMotors(
                    event.currentTarget.checked
                      ? [...motors, motor.id]
                      : motors.filter(id => id !== motor.id),
                  )
                }
              />
              {motor.name}
            </label>
          ))}
        </div>
      </fieldset>
      <label class="pick">
        <span class="label">Trials of each motor by each operator</span>
        <select
          value={String(trials)}
          onChange={event => setTrials(Number(event.currentTarget.value))}
        >
          {[2, 3, 4, 5].map(count => (
            <option key={count} value={String(count)}>
              {count}
            </option>
          ))}
        </select>
      </label>
      <div class="row">
        <button type="submit" class="first" disabled={!ready}>
          Begin
        </button>
        <span class="quiet small">
          {names.length} operators × {motors.length} motors × {trials} trials ={' '}
          {names.length * motors.length * trials} short tests
        </span>
      </div>
    </form>
  )
}
