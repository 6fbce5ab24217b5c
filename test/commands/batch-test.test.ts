import { beforeAll, describe, expect, test } from 'vitest'
import { openStore } from '../../server/store/open-store.ts'
import { IN_REAL_TIME } from '../support/plans.ts'
import { commandBench } from '../support/command-runner.ts'
import { practiceMotor } from '../support/practice.ts'
import { referenceFit } from '../support/short-test-rig.ts'

const { db, run } = commandBench()
const motor = practiceMotor('brindle-12')

beforeAll(async () => {
  const store = openStore(db, { now: Date.now })
  const typeId = store.types.add({ name: 'BR-12' }).id
  const approved = store.motors.add({ name: 'approved', typeId, serialNumber: 'A1' })
  store.fits.add({
    motorId: approved.id,
    runIds: [],
    document: referenceFit(motor, 3),
    settings: {},
    inputsHash: '',
  })
  for (const name of ['twin 1', 'twin 2']) store.motors.add({ name, typeId, serialNumber: 'T1' })
  store.close()
  const limits = [
    'resistance=-15%..15%',
    'coulombTorque=-20%..20%',
    'backEmfConstant=-0.01%..0.01%',
  ]
  await run(
    'limits',
    'set',
    '--type',
    'BR-12',
    '--reference',
    'approved',
    ...limits.flatMap(limit => ['--limit', limit]),
    '--author',
    'Q',
    '--reason',
    'approval',
  )
}, 60_000)

const short = (...args: string[]) =>
  run(
    'batch',
    'test',
    '--port',
    'practice',
    '--batch',
    'lot 1',
    '--against',
    'BR-12',
    '--motor-mass',
    '0.25',
    ...args,
  )

describe('a short test at the terminal', () => {
  test('tells the test uncertainty ratio beforehand, and warns where it cannot decide', async () => {
    const { code, out, err } = await short('--plan-only', '--json')
    expect(code).toBe(0)
    const plan = JSON.parse(out)
    expect(plan.drivenSec).toBeLessThanOrEqual(10)
    expect(plan.samples).toEqual([])
    const of = (quantity: string) =>
      plan.prediction.find((p: { quantity: string }) => p.quantity === quantity)
    expect(of('coulombTorque').uncertaintyRatio).toBeGreaterThan(4)
    expect(of('backEmfConstant').warning).toContain('cannot decide')
    expect(err).toContain('warning: Back-EMF constant: this test cannot decide')
  }, 60_000)

  test('finds the sample by its serial number, tests, identifies and judges it', {
    ...IN_REAL_TIME,
    timeout: 90_000,
  }, async () => {
    const { code, out, err } = await short(
      '--serial-number',
      'S1',
      '--serial-number',
      'T1',
      '--json',
    )
    expect(code).toBe(0)
    const { samples } = JSON.parse(out)
    expect(samples).toHaveLength(1)
    expect(samples[0]).toMatchObject({ motor: 'S1', serialNumber: 'S1' })
    const verdicts = Object.fromEntries(
      samples[0].quantities.map((q: { quantity: string; verdict: string }) => [
        q.quantity,
        q.verdict,
      ]),
    )
    expect(verdicts).toMatchObject({ resistance: 'pass', coulombTorque: 'pass' })
    expect(err).toContain("serial number T1 stands on 'twin 1' and 'twin 2'")
    const batches = JSON.parse((await run('batch', '--json')).out).batches
    expect(batches[0].motors).toEqual(['S1'])
  })

  test('a check motor is measured the same way, and does not move the limits', async () => {
    const before = JSON.parse(
      (await run('compare', '--batch', 'lot 1', '--against', 'BR-12', '--json')).out,
    )
    expect((await short('--check', 'approved', '--operator', 'Ada')).code).toBe(0)
    const after = JSON.parse(
      (await run('compare', '--batch', 'lot 1', '--against', 'BR-12', '--json')).out,
    )
    expect(after.resolved).toEqual(before.resolved)
    expect(after.bench[0]).toMatchObject({ motor: 'approved', operator: 'Ada' })
    expect(after.bench[0].charts[0].remark).toContain('1 of 6 measurements')
  }, 90_000)

  test('without limits there is nothing to test against', async () => {
    await run('types', 'add', 'NEW-1')
    const outcome = await run(
      'batch',
      'test',
      '--port',
      'practice',
      '--batch',
      'b',
      '--against',
      'NEW-1',
    )
    expect(outcome.code).toBe(2)
    expect(outcome.err).toContain('has no limits yet')
  })
})
