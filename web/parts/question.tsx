import { useState } from 'preact/hooks'
import type { QuestionScreen } from '../../src/contract/http-bench.ts'
import { printedUnit } from '../../src/base/quantity-text.ts'
import { sentence } from '../display.ts'
import { NUMBER_PATTERN, typedNumber } from '../typed-number.ts'
import { Glyph } from './glyph.tsx'

type Answer = string | number | boolean | null

/** One question of the guided sequence, with one answer that is the obvious next step. */
export function Question(props: {
  question: QuestionScreen
  disabled: boolean
  onAnswer: (value: Answer) => void
}) {
  const { question, disabled, onAnswer } = props
  return (
    <div class="answers">
      {question.handsNear && (
        <p class="will">
          <Glyph name="hand" />
          <span>
            Hands may come near now: the rig is disarmed and the terminals are dead. Look yourself
            all the same.
          </span>
        </p>
      )}
      {question.detail && <p style={{ whiteSpace: 'pre-line' }}>{question.detail}</p>}
      <Form key={question.id} question={question} disabled={disabled} onAnswer={onAnswer} />
    </div>
  )
}

function Form({ question, disabled, onAnswer }: Parameters<typeof Question>[0]) {
  const { form, suggested } = question
  switch (form.kind) {
    case 'acknowledge':
      return (
        <button type="button" class="first next" disabled={disabled} onClick={() => onAnswer(true)}>
          {form.label}
        </button>
      )
    case 'confirm':
      return (
        <div class="row">
          <button
            type="button"
            class="first next"
            disabled={disabled}
            onClick={() => onAnswer(true)}
          >
            {sentence(form.yes)}
          </button>
          <button type="button" disabled={disabled} onClick={() => onAnswer(false)}>
            {sentence(form.no)}
          </button>
        </div>
      )
    case 'choice':
      return (
        <div class="row">
          {form.choices.map(choice => (
            <button
              type="button"
              key={choice.value}
              class={choice.value === suggested ? 'first next' : ''}
              disabled={disabled}
              onClick={() => onAnswer(choice.value)}
            >
              {sentence(choice.label)}
            </button>
          ))}
        </div>
      )
    case 'number':
    case 'text':
      return <Typed question={question} disabled={disabled} onAnswer={onAnswer} />
    default:
      return form satisfies never
  }
}

function Typed({ question, disabled, onAnswer }: Parameters<typeof Question>[0]) {
  const { form, suggested } = question
  const [text, setText] = useState(suggested === null ? '' : String(suggested))
  if (form.kind !== 'number' && form.kind !== 'text') return null
  const submit = (event: Event) => {
    event.preventDefault()
    if (text.trim() === '') return onAnswer(null)
    onAnswer(form.kind === 'number' ? typedNumber(text) : text.trim())
  }
  const unit = form.kind === 'number' ? printedUnit(form.unit) : ''
  return (
    <form class="stack" style={{ gap: '10px' }} onSubmit={submit}>
      <div>
        <label class="unseen" for="answer">
          {question.text}
        </label>
        <span class="row" style={{ flexWrap: 'nowrap', fontSize: '1.3rem' }}>
          {form.kind === 'number' ? (
            <input
              id="answer"
              inputMode="decimal"
              style={{ maxWidth: '12rem', minHeight: '60px' }}
              required={!form.optional}
              pattern={NUMBER_PATTERN}
              title={`A number from ${form.minimum} to ${form.maximum} ${unit}`}
              value={text}
              onInput={event => setText(event.currentTarget.value)}
            />
          ) : (
            <input
              id="answer"
              style={{ minHeight: '60px' }}
              required={!form.optional}
              maxLength={form.maxLength}
              value={text}
              onInput={event => setText(event.currentTarget.value)}
            />
          )}
          {unit}
        </span>
      </div>
      <div class="row">
        <button type="submit" class="first next" disabled={disabled}>
          {text.trim() === '' && form.optional ? 'Not known, go on' : 'Go on'}
        </button>
        {form.optional && text.trim() !== '' && (
          <button type="button" disabled={disabled} onClick={() => onAnswer(null)}>
            Not known
          </button>
        )}
      </div>
    </form>
  )
}
