import { expect, test } from 'vitest'
import { HAND_WORDS, readHandAct } from '../../server/rig-host/hand-act.ts'
import { InputFault } from '../../src/base/faults.ts'

const lines: [line: string, act: ReturnType<typeof readHandAct>][] = [
  ['shaft free', { act: 'shaft', shaft: { hold: 'free' } }],
  ['shaft locked', { act: 'shaft', shaft: { hold: 'locked', angleRad: 0 } }],
  ['  shaft  locked 1.57 ', { act: 'shaft', shaft: { hold: 'locked', angleRad: 1.57 } }],
  ['shaft slipping 0.02', { act: 'shaft', shaft: { hold: 'slipping', angleRad: 0, slipNm: 0.02 } }],
  ['shaft driven -100', { act: 'shaft', shaft: { hold: 'driven', speedRadPerSec: -100 } }],
  ['load 1e-5 -0.003', { act: 'load', inertiaKgM2: 1e-5, torqueNm: -0.003 }],
  ['warm 80', { act: 'warm', windingCelsius: 80, housingCelsius: 80 }],
  ['mute on', { act: 'mute', on: true }],
  ['stall 0.5', { act: 'stall', forSec: 0.5 }],
  ['troubles lost=1e-4 flipped=2e-5', { act: 'troubles', troubles: { lost: 1e-4, flipped: 2e-5 } }],
  ['troubles', { act: 'troubles', troubles: {} }],
  ['unplug', { act: 'unplug' }],
  ['plug', { act: 'plug' }],
  ['reset', { act: 'reset' }],
]
test.each(lines)("reads '%s'", (line, act) => {
  expect(readHandAct(line)).toEqual(act)
})

test.each([
  '',
  'shaft',
  'shaft locked x',
  'shaft slipping -1',
  'load 1',
  'mute maybe',
  'stall -1',
  'stall 1e999',
  'troubles rust=1',
  'troubles lost=-1',
  'unplug now',
  'jump\u001b[2J',
])("refuses '%s' and lists what can be done", line => {
  expect(() => readHandAct(line)).toThrow(InputFault)
  try {
    readHandAct(line)
  } catch (error) {
    expect((error as Error).message).toContain('shaft free')
    expect((error as Error).message).not.toMatch(/\n|\u001b/)
  }
})

test('every verb that is listed can be read', () => {
  const verbs = HAND_WORDS.split(/ \| |\n/).map(words => words.trim().split(' ')[0]!)
  const read = new Set(lines.map(([line]) => line.trim().split(/\s+/)[0]))
  expect(new Set(verbs)).toEqual(read)
})
