import { expect, test } from 'vitest'
import { CAUTIONS } from '../../src/procedure/cautions.ts'

const textOf = (id: string) => CAUTIONS.find(caution => caution.id === id)?.text ?? ''

test('every caution has an id of its own, a title and a text', () => {
  expect(new Set(CAUTIONS.map(caution => caution.id)).size).toBe(CAUTIONS.length)
  for (const { title, text } of CAUTIONS) {
    expect(title.length).toBeGreaterThan(5)
    expect(text.length).toBeGreaterThan(30)
  }
})

test('says that the stop control is no emergency stop and asks for a hard-wired one', () => {
  expect(CAUTIONS.map(caution => caution.title)).toContain('The stop control is no emergency stop')
  // ISO 13850, from memory: an emergency stop works with the control software dead.
  expect(textOf('no-emergency-stop')).toMatch(/hard-wired.*software dead.*ISO 13850/)
})

test.each([
  ['rotating-parts', /hands, gloves, sleeves, hair/],
  ['locking-bar', /before the shaft may turn/],
  ['clamp-slips', /both directions/],
  ['hot-winding', /burn/],
  ['regeneration', /supply that takes current back, or a brake resistor/],
  ['extra-low-voltage', /60 V DC/],
  ['rules-first', /law/],
])('%s is among them', (id, words) => {
  expect(textOf(id)).toMatch(words)
})
