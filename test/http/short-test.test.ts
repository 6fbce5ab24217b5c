import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { createShortTestDesk } from '../../server/http/short-test-desk.ts'
import { openRecorder } from '../../server/recorder/open-recorder.ts'
import type { Recorder } from '../../server/recorder/recorder.ts'
import { loadPracticeMotor } from '../../server/rig-host/motor-file.ts'
import { type PracticeRig, startPracticeRig } from '../../server/rig-host/start-practice-rig.ts'
import type { BenchSession } from '../../server/session/bench-session.ts'
import { connectBench } from '../../server/session/connect.ts'
import type { Store } from '../../server/store/store.ts'
import { openStore } from '../../server/store/open-store.ts'
import type { ShortTestBody, ShortTestView } from '../../src/contract/http-samples.ts'
import { fillApprovedType } from '../support/approved-type.ts'
import { type StoreFolder, storeFolder } from './support/practice-store.ts'

let folder: StoreFolder
let store: Store
let rig: PracticeRig
let recorder: Recorder
let session: BenchSession
let type: number
let batch: number

beforeAll(async () => {
  folder = storeFolder()
  store = openStore(folder.file, { now: Date.now })
  const motor = await loadPracticeMotor(null)
  type = fillApprovedType(store, motor)
  batch = store.batches.add({ name: 'lot 1', typeId: type }).id
  rig = await startPracticeRig({ via: 'in-process', motor, seed: 3, linkPath: null })
  recorder = await openRecorder({ file: folder.file, onHealth: () => {} })
  session = await connectBench({ open: () => rig.open(), recorder: recorder.begin })
}, 60_000)
afterAll(async () => {
  await session?.close()
  await recorder?.close()
  await rig?.close()
  store?.close()
  folder?.remove()
})

const desk = () => createShortTestDesk({ store, now: Date.now, changed: () => {} })
const order = (what: ShortTestBody['what']): ShortTestBody => ({
  type,
  what,
  operator: 'Ada',
  rule: 'conformity',
  motorMassKg: 0.25,
})
const over = (view: ShortTestView | null) => view?.phase === 'done' || view?.phase === 'ended'
const soon = { timeout: 120_000, interval: 20 }

/** As with a real motor: nobody but the operator moves the shaft. */
const byHand = () => ({ session, hands: null, acknowledged: session.acknowledgeCautions() })

describe('a short test that a page starts', () => {
  test('tells beforehand how well it will know, or why it cannot be made', () => {
    const plan = desk().plan(session, { type, rule: 'conformity', motorMassKg: 0.25 })
    expect(plan.refused).toBeNull()
    expect(plan.drivenSec).toBeLessThanOrEqual(10)
    expect(plan.prediction.map(each => each.quantity)).toContain('backEmfConstant')
    expect(desk().plan(null, { type, rule: 'conformity' }).refused).toContain('no rig')
    const bare = (store.types.find('bare') ?? store.types.add({ name: 'bare' })).id
    expect(desk().plan(session, { type: bare, rule: 'conformity' }).refused).toContain(
      'has no limits yet',
    )
  })

  test('asks for the shaft, drives only once it is said to be ready, and judges', async () => {
    const tests = desk()
    const part = (store.motors.find('part 1') ?? store.motors.add({ name: 'part 1', typeId: type }))
      .id
    const begin = () =>
      tests.start(byHand(), order({ kind: 'trial', motor: part, study: 'spring' }))
    begin()
    expect(() =>
      tests.start(byHand(), order({ kind: 'sample', batch, serialNumber: 'S2' })),
    ).toThrow('under way')
    const asked: string[] = []
    for (let attempt = 0; attempt < 5 && tests.view?.phase !== 'done'; attempt++) {
      // On a busy machine the watch may end a test: an operator starts it again.
      if (over(tests.view)) begin()
      asked.length = 0
      while (!over(tests.view)) {
        await expect.poll(() => tests.view?.phase === 'shaft' || over(tests.view), soon).toBe(true)
        if (over(tests.view)) break
        const { text } = tests.view!
        asked.push(text)
        const runs = store.runs.list().length
        await new Promise(resolve => setTimeout(resolve, 250))
        expect(store.runs.list()).toHaveLength(runs)
        const isFree = text.includes('Take the locking device off')
        await rig.setShaft(isFree ? 'free' : 'locked', isFree ? null : asked.length)
        await tests.act('shaft-ready')
        await expect.poll(() => tests.view?.phase, soon).not.toBe('shaft')
      }
      await expect.poll(() => tests.isBusy, soon).toBe(false)
    }
    expect(tests.view?.text).toBe('done')
    expect(asked[0]).toContain('Lock the shaft.')
    expect(asked.at(-1)).toContain('Take the locking device off')
    expect(tests.view?.verdict).toMatchObject({ motor: 'part 1', verdict: 'pass' })
    expect(store.gaugeTrials.ofStudy('spring')).toMatchObject([{ motorId: part, operator: 'Ada' }])
    await tests.act('leave')
    expect(tests.view).toBeNull()
  }, 300_000)

  test('a stop while it waits for the shaft ends it; what is asked later is refused', async () => {
    const tests = desk()
    tests.start(byHand(), order({ kind: 'sample', batch, serialNumber: 'S3' }))
    await expect.poll(() => tests.view?.phase, soon).toBe('shaft')
    tests.stop('stopped by the operator')
    await expect.poll(() => tests.view?.phase, soon).toBe('ended')
    expect(tests.view?.text).toContain('stopped by the operator')
    await expect(tests.act('shaft-ready')).rejects.toThrow('no short test waits')
    const sample = store.motors.named('S3').id
    expect(store.fits.latest(sample)).toBeNull()
    expect(store.batches.get(batch).motorIds).toEqual([sample])
  })

  test('what cannot be meant is refused before anything moves', () => {
    const other = store.motors.ensure('stranger').id
    expect(() => desk().start(byHand(), order({ kind: 'check', motor: other }))).toThrow(
      'is not of type',
    )
    expect(() =>
      desk().start(byHand(), order({ kind: 'sample', batch: 99, serialNumber: 'S4' })),
    ).toThrow('no batch 99')
  })
})
