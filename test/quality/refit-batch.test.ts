import { beforeAll, describe, expect, test, afterAll } from 'vitest'
import { refitBatch, refitTerms } from '../../server/quality/refit-batch.ts'
import { openStore } from '../../server/store/open-store.ts'
import { practiceRun, practiceSuite } from '../../src/practice-rig/practice-run.ts'
import { practiceMotor } from '../support/practice.ts'
import { StoppedFault } from '../../src/base/faults.ts'
import { storeFolder, storeRun } from '../http/support/practice-store.ts'

const folder = storeFolder()
afterAll(() => folder.remove())
const never = new AbortController().signal

beforeAll(async () => {
  const store = openStore(folder.file, { now: Date.now })
  const batch = store.batches.add({ name: 'lot' }).id
  for (const name of ['one', 'two']) {
    const run = practiceRun(practiceMotor('dormouse-12'), 'locked-rotor', 1, { rateHz: 2000 })
    await storeRun(store, store.motors.ensure(name).id, run)
    store.batches.include(batch, store.motors.named(name).id)
  }
  store.batches.include(batch, store.motors.add({ name: 'never tested' }).id)
  store.close()
}, 60_000)

describe('identifying a batch anew', () => {
  test('fits each sample from its recordings, tells how far it is, and names what cannot be fitted', async () => {
    const store = openStore(folder.file, { now: Date.now })
    const fractions: number[] = []
    const outcome = await refitBatch(store, 'lot', {
      referenceTemperatureCelsius: 25,
      likeFitId: null,
      report: ({ fraction }) => fractions.push(fraction),
      signal: never,
      workers: 2,
    })
    expect(outcome.refitted).toBe(2)
    expect(outcome.failed).toEqual([
      { motor: 'never tested', text: expect.stringContaining('has no runs yet') },
    ])
    expect(fractions.at(-1)).toBe(1)
    const fit = store.fits.latest(store.motors.named('two').id)!
    expect(fit.document.referenceTemperatureCelsius).toBe(25)
    expect(fit.document.parameters.resistance.status).toBe('determined')
    store.close()
  }, 60_000)

  test('stops when cancelled', async () => {
    const store = openStore(folder.file, { now: Date.now })
    const cancel = new AbortController()
    const done = refitBatch(store, 'lot', {
      referenceTemperatureCelsius: 20,
      likeFitId: null,
      report: () => {},
      signal: cancel.signal,
    })
    cancel.abort()
    await expect(done).rejects.toBeInstanceOf(StoppedFault)
    store.close()
  }, 30_000)

  test('begins beside the identification of the reference', async () => {
    const store = openStore(folder.file, { now: Date.now })
    const runs = practiceSuite(practiceMotor('brindle-12'), 3, { rateHz: 2000 })
    const report = () => {}
    for (const name of ['approved', 'sample']) {
      const { id } = store.motors.ensure(name)
      for (const run of [...runs.slice(1, 3), ...runs.slice(7, 11)]) await storeRun(store, id, run)
      store.batches.include(store.batches.add({ name: `only ${name}` }).id, id)
    }
    const limits = {
      referenceMotorIds: [store.motors.named('approved').id],
      referenceTemperatureCelsius: 20,
    }
    expect(refitTerms(store, limits).likeFitId).toBeNull()
    for (const name of ['approved', 'sample']) {
      const terms = refitTerms(store, limits)
      await refitBatch(store, `only ${name}`, { ...terms, report, signal: never, workers: 1 })
    }
    const sample = store.motors.named('sample').id
    const { termination } = store.fits.latest(sample)!.document
    expect(termination).toContain("begun beside the fit of 'approved'")
    store.close()
  }, 180_000)
})
