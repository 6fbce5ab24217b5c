import { describe, expect, test } from 'vitest'
import type { NewBench, NewCalibration } from '../../server/store/store.ts'
import { InputFault } from '../../src/base/faults.ts'
import type { FitDocument } from '../../src/contract/fit-document.ts'
import { openStore } from '../../server/store/open-store.ts'
import { newRun } from '../support/sample-runs.ts'
import { scratchFile, scratchStore, steppingClock } from '../support/scratch-store.ts'

const bench: NewBench = {
  name: 'Bench by the window',
  rigSerialNumber: 'R-0042',
  supplyVolt: 24,
  supplyLimitAmp: 10,
  declaredAbove60Volt: false,
  sensors: [{ channel: 'i', description: 'shunt 5 mΩ', serialNumber: 'S-9' }],
  fixture: {
    inertiaKgM2: 2e-6,
    inertiaUncertaintyKgM2: 1e-7,
    coulombTorqueNm: 1e-4,
    coulombTorqueUncertaintyNm: 2e-5,
    viscousNmsPerRad: 0,
    viscousUncertaintyNmsPerRad: 0,
  },
  notes: 'oiled',
}

const calibrationOf = (benchId: number, changes: Partial<NewCalibration> = {}): NewCalibration => ({
  benchId,
  channel: 'i',
  gain: 1.01,
  zero: 0.02,
  gainUncertainty: 1e-3,
  zeroUncertainty: 2e-3,
  method: 'reference-instruments',
  references: [{ description: 'multimeter', serialNumber: 'DMM-1' }],
  points: [
    { reference: 0, reading: 0.02 },
    { reference: 5, reading: 4.97 },
  ],
  author: 'Ada',
  notes: '',
  performedAt: '2026-03-01T08:00:00.000Z',
  validUntil: '2027-03-01T08:00:00.000Z',
  ...changes,
})

test('a type comes back as it was given, and changed', () => {
  const { types, motors } = scratchStore()
  const type = types.add({ name: 'T 12', maker: 'Nowhere Works', notes: 'two poles' })
  expect(types.get(type.id)).toEqual({
    id: 1,
    name: 'T 12',
    maker: 'Nowhere Works',
    notes: 'two poles',
    createdAt: expect.stringMatching(/^2026-03-14T12:00:0\d\.000Z$/),
  })
  expect(types.change(type.id, { notes: 'four poles' }).notes).toBe('four poles')
  expect(types.change(type.id, { name: 'T 13', maker: undefined }).maker).toBe('Nowhere Works')
  expect(types.list().map(each => each.name)).toEqual(['T 13'])
  motors.add({ name: 'M', typeId: type.id })
  expect(() => types.remove(type.id)).toThrow("type 'T 13' has motors, limits or batches")
  const unused = types.add({ name: 'unused' })
  types.remove(unused.id)
  expect(types.find('unused')).toBeNull()
})

describe('motors', () => {
  test('come back as they were given, and changed', () => {
    const { motors, types } = scratchStore()
    const typeId = types.add({ name: 'T' }).id
    const given = { name: 'M', typeId, serialNumber: '7', lot: 'L1', nameplate: '12 V', notes: 'n' }
    const motor = motors.add(given)
    expect(motors.get(motor.id)).toMatchObject({ ...given, deletedAt: null })
    expect(motors.change(motor.id, { name: 'M2', lot: 'L2' })).toMatchObject({
      ...given,
      name: 'M2',
      lot: 'L2',
    })
    expect(motors.find('M')).toBeNull()
  })

  test('are found by words in any field, by type and by lot', () => {
    const { motors, types } = scratchStore()
    const typeId = types.add({ name: 'T' }).id
    motors.add({ name: 'A', lot: 'L1', notes: 'SUMMT LEISE' })
    motors.add({ name: 'B', lot: 'L2', typeId, nameplate: 'Ñandú 12 V' })
    const names = (filter: Parameters<typeof motors.list>[0]) =>
      motors.list(filter).map(motor => motor.name)
    expect(names({})).toEqual(['A', 'B'])
    expect(names({ text: 'leise' })).toEqual(['A'])
    expect(names({ text: 'ÑANDÚ' })).toEqual(['B'])
    expect(names({ typeId })).toEqual(['B'])
    expect(names({ lot: 'L1' })).toEqual(['A'])
    expect(names({ text: '%' })).toEqual([])
  })

  test('are made when a run needs them, once', () => {
    const { motors } = scratchStore()
    expect(motors.ensure('M').id).toBe(motors.ensure(' M ').id)
  })

  test('go with their runs when deleted, and come back with them', () => {
    const { motors, runs } = scratchStore()
    const { id } = motors.add({ name: 'M' })
    runs.begin(newRun(id)).finish('complete', '', null)
    motors.delete(id)
    expect(motors.list()).toEqual([])
    expect(motors.list({ deleted: true }).map(motor => motor.id)).toEqual([id])
    expect(runs.list()).toEqual([])
    expect(motors.restore(id).deletedAt).toBeNull()
    expect(runs.list()).toHaveLength(1)
  })

  test('free their name when deleted; undo says so if it was given again', () => {
    const { motors } = scratchStore()
    const { id } = motors.add({ name: 'M' })
    motors.delete(id)
    motors.add({ name: 'M' })
    expect(() => motors.restore(id)).toThrow("another motor is named 'M' by now")
  })

  test('refuse a type that is not there', () => {
    const { motors } = scratchStore()
    expect(() => motors.add({ name: 'M', typeId: 9 })).toThrow('no type 9 in the store')
  })
})

test('a bench comes back as it was given, and is found by its rig', () => {
  const { benches } = scratchStore()
  const { id } = benches.add(bench)
  expect(benches.get(id)).toMatchObject(bench)
  expect(benches.ofRig('R-0042')?.id).toBe(id)
  expect(benches.ofRig('R-0043')).toBeNull()
  expect(benches.change(id, { supplyVolt: 48, fixture: null })).toMatchObject({
    ...bench,
    supplyVolt: 48,
    fixture: null,
  })
  expect(() => benches.add({ ...bench, name: 'other' })).toThrow(
    "the rig with serial number 'R-0042' belongs to bench 'Bench by the window' already",
  )
})

describe('calibrations', () => {
  test('come back as they were given', () => {
    const { benches, calibrations } = scratchStore()
    const given = calibrationOf(benches.add(bench).id)
    expect(calibrations.get(calibrations.add(given).id)).toMatchObject(given)
  })

  test('are in force from their date on, until a later one of the same channel', () => {
    const { benches, calibrations } = scratchStore()
    const benchId = benches.add(bench).id
    const first = calibrations.add(calibrationOf(benchId))
    const later = calibrations.add(
      calibrationOf(benchId, { performedAt: '2026-03-05T08:00:00.000Z' }),
    )
    const other = calibrations.add(calibrationOf(benchId, { channel: 'u' }))
    const inForce = (at: string) => calibrations.inForce(benchId, at).map(each => each.id)
    expect(inForce('2026-02-01T00:00:00.000Z')).toEqual([])
    expect(inForce('2026-03-02T00:00:00.000Z')).toEqual([first.id, other.id])
    expect(inForce('2026-03-06T00:00:00.000Z')).toEqual([later.id, other.id])
    expect(calibrations.history(benchId, 'i').map(each => each.id)).toEqual([later.id, first.id])
    expect(calibrations.history(benchId)).toHaveLength(3)
  })

  test.each([
    [{ gain: 0 }, 'gain 0; must be a number other than 0'],
    [{ gain: Number.NaN }, 'gain NaN; must be a number other than 0'],
    [{ zero: Number.POSITIVE_INFINITY }, 'zero Infinity; must be a number'],
    [{ gainUncertainty: -1 }, 'must be 0 or more'],
    [{ benchId: 99 }, 'no bench 99 in the store'],
  ])('refuse %j', (changes, text) => {
    const { benches, calibrations } = scratchStore()
    const given = calibrationOf(benches.add(bench).id, changes)
    expect(() => calibrations.add(given)).toThrow(text)
  })
})

test('a fit comes back as it was given; the latest and the list are the newest first', () => {
  const { motors, fits } = scratchStore()
  const motorId = motors.add({ name: 'M' }).id
  const document = { schema: 'fit/1', motor: 'M', warnings: [], later: { unknown: 1 } }
  const given = {
    motorId,
    runIds: [3, 1],
    document: document as unknown as FitDocument,
    settings: { fix: { inertia: 1e-6 } },
    inputsHash: 'ab12',
  }
  expect(fits.latest(motorId)).toBeNull()
  const first = fits.add(given)
  const second = fits.add({ ...given, runIds: [1] })
  expect(fits.get(first.id)).toEqual({ ...given, id: 1, createdAt: first.createdAt })
  expect(fits.latest(motorId)?.id).toBe(second.id)
  expect(fits.list(motorId).map(fit => fit.id)).toEqual([second.id, first.id])
  expect(() => fits.get(7)).toThrow('no fit 7 in the store')
})

describe('limits', () => {
  const limit = {
    quantity: 'resistance',
    unit: 'ohm',
    basis: 'absolute' as const,
    lower: 0.6,
    upper: 0.8,
  }
  const setUp = () => {
    const store = scratchStore()
    const typeId = store.types.add({ name: 'T' }).id
    const motorId = store.motors.add({ name: 'M', typeId }).id
    const set = {
      typeId,
      limits: [limit],
      referenceTemperatureCelsius: 20,
      referenceMotorIds: [motorId],
      author: 'Ada',
      reason: 'first approval',
    }
    return { ...store, set, typeId }
  }

  test('keep author, date and reason; old ones stay', () => {
    const { limits, set, typeId } = setUp()
    const first = limits.add(set)
    const second = limits.add({ ...set, reason: 'new supplier', limits: [] })
    expect(first).toMatchObject({ ...set, setAt: expect.stringMatching(/^2026-03-14T/) })
    expect(limits.current(typeId)).toEqual(second)
    expect(limits.history(typeId)).toEqual([second, first])
  })

  test.each([
    [{ limits: [{ ...limit, lower: 0.9 }] }, 'lower 0.9 is not below upper 0.8; exchange them'],
    [{ limits: [{ ...limit, lower: null, upper: null }] }, 'give a lower value, an upper value or'],
    [{ limits: [limit, limit] }, 'limit of resistance is given twice'],
    [{ author: ' ' }, 'limits need an author and a reason'],
    [{ typeId: 9 }, 'no type 9'],
    [{ referenceMotorIds: [9] }, 'no motor 9'],
  ])('refuse %j and store nothing', (changes, text) => {
    const { limits, set, typeId } = setUp()
    expect(() => limits.add({ ...set, ...changes })).toThrow(text)
    expect(limits.history(typeId)).toEqual([])
  })
})

test('a batch holds motors, each once', () => {
  const { batches, motors } = scratchStore()
  const [a, b] = ['A', 'B'].map(name => motors.add({ name }).id)
  const { id } = batches.add({ name: 'Delivery 3', notes: 'Monday' })
  batches.include(id, b!)
  batches.include(id, a!)
  expect(batches.include(id, b!).motorIds).toEqual([a, b])
  expect(batches.exclude(id, a!).motorIds).toEqual([b])
  expect(batches.change(id, { name: 'Delivery 4' })).toMatchObject({
    name: 'Delivery 4',
    notes: 'Monday',
  })
  expect(() => batches.include(id, 99)).toThrow('no motor 99')
  expect(batches.named('Delivery 4').motorIds).toEqual([b])
})

test('a sequence is resumed where it was saved, until it is finished', () => {
  const { sequences, motors } = scratchStore()
  const motorId = motors.add({ name: 'M' }).id
  const { id } = sequences.begin(motorId, { step: 1 })
  sequences.save(id, { step: 2 })
  expect(sequences.unfinished(motorId)).toMatchObject({ id, state: { step: 2 }, finishedAt: null })
  sequences.finish(id, { step: 3 })
  expect(sequences.unfinished(motorId)).toBeNull()
  expect(() => sequences.save(99, {})).toThrow('no sequence 99')
})

test('everything is there after closing and opening again', () => {
  const file = scratchFile()
  const before = openStore(file, { now: steppingClock() })
  before.benches.add(bench)
  const motor = before.motors.add({ name: 'M' })
  before.close()
  const after = scratchStore(file)
  expect(after.motors.list()).toEqual([motor])
  expect(after.benches.named(bench.name)).toMatchObject(bench)
})

test('what is not there is an input fault', () => {
  const { motors, runs } = scratchStore()
  expect(() => motors.get(5)).toThrow(InputFault)
  expect(() => runs.get(5)).toThrow('no run 5 in the store')
})
