import { expect, test } from 'vitest'
import { InputFault } from '../../src/base/faults.ts'
import { scratchStore } from '../support/scratch-store.ts'

const good = [
  'M1',
  'O\'Brien\'s "big" one',
  'a/b\\c:d',
  '電動機 №7',
  'ротор ½ ☃',
  '👩‍🔧 motor',
  '--help',
  '%_*?',
  "x'); DROP TABLE motors; --",
  'n'.repeat(120),
  '😀'.repeat(120),
]

test.each(good)('takes %s for a name and finds it again', name => {
  const { motors } = scratchStore()
  const { id } = motors.add({ name })
  expect(motors.named(name)).toMatchObject({ id, name })
  expect(motors.list({ text: name }).map(motor => motor.id)).toEqual([id])
})

const bad = [
  ['', 'has 1 to 120 characters; got none'],
  ['   ', 'has 1 to 120 characters; got none'],
  ['n'.repeat(121), 'has 1 to 120 characters; got 121'],
  ['a\nb', 'may not hold control characters; got "a\\nb"'],
  ['a\u0000b', 'may not hold control characters'],
  ['\u001b[31mred', 'may not hold control characters; got "\\u001b[31mred"'],
  ['a\u2028b', 'may not hold control characters'],
  ['invoice\u202efdp', 'may not hold control characters'],
  ['half \ud83d', 'may not hold control characters'],
] as const

test.each(bad)('refuses %j and says what would be right', (name, text) => {
  const { motors, types, benches, batches } = scratchStore()
  for (const attempt of [
    () => motors.add({ name }),
    () => types.add({ name }),
    () => batches.add({ name }),
    () => benches.find(name),
  ]) {
    expect(attempt).toThrow(InputFault)
    expect(attempt).toThrow(text)
  }
  expect(motors.list()).toEqual([])
})

test('takes composed and decomposed letters, and space around them, for the same name', () => {
  const { motors } = scratchStore()
  const { id } = motors.add({ name: ' Mot\u00f6r ' })
  expect(motors.named('Moto\u0308r').id).toBe(id)
  expect(() => motors.add({ name: 'Moto\u0308r' })).toThrow("a motor named 'Mot\u00f6r' exists")
})

test('says which names there are when one is not there', () => {
  const { motors } = scratchStore()
  expect(() => motors.named('X')).toThrow("no motor named 'X'; the store has none yet")
  for (let i = 1; i <= 10; i++) motors.add({ name: `M${i}` })
  expect(() => motors.named('X')).toThrow(
    "no motor named 'X'; the store has 'M1', 'M10', 'M2', 'M3', 'M4', 'M5', 'M6', 'M7' and 2 more",
  )
})
