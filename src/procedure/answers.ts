import { failure, type Result, success } from '../base/result.ts'
import type { AnswerForm, AnswerValue, Question } from './question.ts'

/** Whether a value answers a question; else one line that says what would. */
export function checkAnswer(question: Question, value: AnswerValue): Result<AnswerValue, string> {
  const { form } = question
  switch (form.kind) {
    case 'acknowledge':
      return value === true ? success(value) : failure(`to go on, confirm: ${form.label}`)
    case 'confirm':
      return typeof value === 'boolean'
        ? success(value)
        : failure(`answer '${form.yes}' or '${form.no}'`)
    case 'choice':
      return form.choices.some(choice => choice.value === value)
        ? success(value)
        : failure(`answer one of: ${form.choices.map(choice => choice.value).join(', ')}`)
    case 'number':
      return checkNumber(form, value)
    case 'text':
      return checkText(form, value)
    default:
      return form satisfies never
  }
}

type FormOf<K extends AnswerForm['kind']> = Extract<AnswerForm, { kind: K }>

function checkNumber(form: FormOf<'number'>, value: AnswerValue): Result<AnswerValue, string> {
  if (value === null && form.optional) return success(null)
  if (typeof value === 'number' && value >= form.minimum && value <= form.maximum) {
    return success(value)
  }
  const unknown = form.optional ? ', or nothing where not known' : ''
  return failure(`a number from ${form.minimum} to ${form.maximum} ${form.unit}${unknown}`)
}

function checkText(form: FormOf<'text'>, value: AnswerValue): Result<AnswerValue, string> {
  if ((value === null || value === '') && form.optional) return success(null)
  return typeof value === 'string' && value !== '' && value.length <= form.maxLength
    ? success(value)
    : failure(`a text of at most ${form.maxLength} characters`)
}

const YES = new Set(['y', 'yes', 'j', 'ja', 'o', 'oui'])
const NO = new Set(['n', 'no', 'nein', 'non'])

/** What someone typed, as the value it means. An empty line takes the suggestion. */
export function parseAnswer(question: Question, typed: string): Result<AnswerValue, string> {
  const text = typed.trim()
  const { form } = question
  if (text === '' && form.kind !== 'acknowledge') return checkAnswer(question, question.suggested)
  const word = text.toLowerCase()
  switch (form.kind) {
    case 'acknowledge':
      return checkAnswer(question, YES.has(word))
    case 'confirm':
      return checkAnswer(question, YES.has(word) ? true : NO.has(word) ? false : text)
    case 'choice': {
      const place = form.choices[Number(text) - 1]
      return checkAnswer(question, place?.value ?? text)
    }
    case 'number': {
      if (text === '-') return checkAnswer(question, null)
      const number = Number(text.replace(',', '.'))
      return checkAnswer(question, Number.isNaN(number) ? text : number)
    }
    case 'text':
      return checkAnswer(question, text)
    default:
      return form satisfies never
  }
}

/**
 * The answer that stands for an operator where there is none. Only for rigs that declare themselves
 * simulated: on a real one these are answers about a shaft that somebody has to look at.
 */
export function defaultAnswer(question: Question): AnswerValue {
  switch (question.form.kind) {
    case 'acknowledge':
    case 'confirm':
      return true
    case 'choice':
      return question.suggested ?? question.form.choices[0]!.value
    case 'number':
    case 'text':
      return question.suggested
    default:
      return question.form satisfies never
  }
}
