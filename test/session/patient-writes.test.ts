import { afterEach, beforeEach, expect, test, vi } from 'vitest'
import { PatientWrites } from '../../server/session/patient-writes.ts'
import { openStore } from '../../server/store/open-store.ts'
import { openDatabase } from '../../server/store/sqlite.ts'
import { WorkFault } from '../../src/base/faults.ts'
import { scratchStore } from '../support/scratch-store.ts'

beforeEach(() => {
  vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout'] })
})
afterEach(() => {
  vi.useRealTimers()
})

test('a store that another program locks is told once, tried again, and gets the newest', () => {
  const file = scratchStore().file
  const store = openStore(file, { now: Date.now, busyMs: 5 })
  const motor = store.motors.add({ name: 'M' })
  const { id } = store.sequences.begin(motor.id, { step: 0 })
  const other = openDatabase(file, {})
  other.exec('BEGIN IMMEDIATE')

  const told: string[] = []
  const writes = new PatientWrites(text => told.push(text))
  const save = (step: number) => writes.write('place', () => store.sequences.save(id, { step }))
  save(1)
  vi.advanceTimersByTime(1000)
  save(2)
  expect(told).toEqual([expect.stringMatching(/another program is writing to it/)])
  expect(store.sequences.unfinished(motor.id)?.state).toEqual({ step: 0 })

  other.exec('COMMIT')
  vi.advanceTimersByTime(500)
  expect(store.sequences.unfinished(motor.id)?.state).toEqual({ step: 2 })
  other.close()
  store.close()
})

test('at the end what is left is tried once more, and nothing is tried after it', () => {
  let tries = 0
  const writes = new PatientWrites(() => {})
  writes.write('place', () => {
    tries++
    throw new WorkFault('full')
  })
  writes.end()
  vi.advanceTimersByTime(5000)
  expect(tries).toBe(2)
})

test('a mistake of the program is thrown', () => {
  const writes = new PatientWrites(() => {})
  const mistake = () => {
    throw new RangeError('id = 7')
  }
  expect(() => writes.write('place', mistake)).toThrow('id = 7')
})
