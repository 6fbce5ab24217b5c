import { describe, expect, test } from 'vitest'
import { checkAnswer, defaultAnswer, parseAnswer } from '../../src/procedure/answers.ts'
import type { AnswerForm, AnswerValue, Question } from '../../src/procedure/question.ts'

const question = (form: AnswerForm, suggested: AnswerValue = null): Question => ({
  id: 'q',
  step: 'questions',
  text: '?',
  detail: null,
  form,
  suggested,
  handsNear: false,
})

const AMPERES: AnswerForm = {
  kind: 'number',
  unit: 'A',
  minimum: 0.1,
  maximum: 30,
  optional: false,
}
const MAYBE: AnswerForm = { ...AMPERES, optional: true }
const CAUTIONS: AnswerForm = { kind: 'acknowledge', label: 'I have read the cautions' }
const CONFIRM: AnswerForm = { kind: 'confirm', yes: 'the shaft is free', no: 'not yet' }
const CHOICE: AnswerForm = {
  kind: 'choice',
  choices: [
    { value: 'wait', label: 'wait' },
    { value: 'go-on', label: 'go on' },
  ],
}

describe('what was typed', () => {
  test.each<[string, AnswerForm, AnswerValue, string, AnswerValue]>([
    ['a number', AMPERES, null, '2.5', 2.5],
    ['a number with a decimal comma', AMPERES, null, ' 2,5 ', 2.5],
    ['nothing takes the suggestion', AMPERES, 4, '', 4],
    ['nothing where the answer may be missing', MAYBE, null, '', null],
    ['a dash for not known, whatever is suggested', MAYBE, 4, '-', null],
    ['yes', CONFIRM, null, 'Yes', true],
    ['no', CONFIRM, null, 'n', false],
    ['a choice by its number', CHOICE, null, '2', 'go-on'],
    ['a choice by its name', CHOICE, null, 'wait', 'wait'],
    ['an acknowledgement', CAUTIONS, null, 'y', true],
  ])('%s', (_, form, suggested, typed, value) => {
    expect(parseAnswer(question(form, suggested), typed)).toEqual({ ok: true, value })
  })

  test.each<[string, AnswerForm, string, RegExp]>([
    ['words for a number', AMPERES, 'much', /a number from 0.1 to 30 A$/],
    ['a number too large', AMPERES, '31', /a number from 0.1 to 30 A$/],
    ['nothing where an answer is needed', AMPERES, '', /a number from/],
    ['a caution passed by Enter alone', CAUTIONS, '', /to go on, confirm/],
    ['something else than yes or no', CONFIRM, 'maybe', /'the shaft is free' or 'not yet'/],
    ['Enter alone where a shaft is to be looked at', CONFIRM, '', /'the shaft is free'/],
    ['a choice that is not there', CHOICE, '3', /one of: wait, go-on/],
  ])('%s is refused with what would be right', (_, form, typed, words) => {
    const refused = parseAnswer(question(form), typed)
    expect(refused.ok ? '' : refused.error).toMatch(words)
  })
})

test('a page’s answers are checked alike', () => {
  expect(checkAnswer(question(AMPERES), Number.NaN).ok).toBe(false)
  expect(checkAnswer(question(AMPERES), '3').ok).toBe(false)
  expect(checkAnswer(question({ kind: 'text', maxLength: 3, optional: false }), 'abcd').ok).toBe(
    false,
  )
  expect(checkAnswer(question(CHOICE), 'wait').ok).toBe(true)
})

test('the default answers of a simulated bench are accepted', () => {
  for (const item of [
    question(CAUTIONS),
    question(CONFIRM),
    question(CHOICE),
    question(AMPERES, 3),
  ]) {
    expect(checkAnswer(item, defaultAnswer(item)).ok).toBe(true)
  }
})
