import { beforeAll, describe, expect, onTestFinished, test } from 'vitest'
import { openStore } from '../../server/store/open-store.ts'
import { IN_REAL_TIME } from '../support/plans.ts'
import { commandBench } from '../support/command-runner.ts'
import { practiceMotor } from '../support/practice.ts'
import { rigSaidReal } from '../support/rig-said-real.ts'
import { referenceFit } from '../support/short-test-rig.ts'

const { db, run, runWith } = commandBench()
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
    'inertia=-20%..20%',
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

const SHORT_TEST = ['batch', 'test', '--against', 'BR-12', '--motor-mass', '0.25']
const short = (...args: string[]) =>
  run(...SHORT_TEST, '--port', 'practice', '--batch', 'lot 1', ...args)

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
    timeout: 180_000,
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
    // What a short test knows well passes; what it knows less well is open at most: the sample is good.
    expect(verdicts).toMatchObject({ inertia: 'pass' })
    expect([verdicts.resistance, verdicts.coulombTorque]).not.toContain('fail')
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
  }, 180_000)

  test('serial numbers come line by line from a pipe; a wrong one does not end the shift', async () => {
    async function* lines() {
      yield ''
      yield ' T1 '
      yield 'T1'
    }
    const outcome = await runWith(
      { inputLines: lines },
      ...SHORT_TEST,
      '--port',
      'practice',
      '--batch',
      'piped',
      '--json',
    )
    expect(outcome.code).toBe(0)
    expect(JSON.parse(outcome.out).samples).toEqual([])
    expect(outcome.err.match(/serial number T1 stands on 'twin 1' and 'twin 2'/g)).toHaveLength(2)
  }, 60_000)

  test('without a number and with nobody to ask it says how to give one', async () => {
    const { code, err } = await short()
    expect(code).toBe(2)
    expect(err).toContain('give --serial-number, or pipe them in, one a line')
  })

  test('on a real shaft it asks: cautions, number, lock, free; and drives only after each answer', {
    ...IN_REAL_TIME,
    timeout: 180_000,
  }, async () => {
    const real = await rigSaidReal(motor)
    onTestFinished(() => real.close())
    const asked: string[] = []
    const isNumber = (prompt: string) => prompt.includes('serial number')
    const ask = async (prompt: string): Promise<string> => {
      asked.push(prompt)
      if (prompt.includes("Type 'yes'")) return 'yes'
      if (isNumber(prompt)) return 'R1'
      const isFree = prompt.includes('Take the locking device off')
      await real.rig.setShaft(isFree ? 'free' : 'locked', isFree ? null : asked.length)
      // The second time it is called off before anything drives.
      return asked.filter(isNumber).length > 1 ? 'stop' : ''
    }
    const { code, err } = await runWith(
      { interactive: true, ask },
      ...SHORT_TEST,
      '--port',
      real.path,
      '--batch',
      'by hand',
    )
    // Stopped by the operator.
    expect(code).toBe(3)
    expect(err).toContain('Rotating parts')
    expect(err).toMatch(/(pass|FAIL|undecided) {2}R1, serial number R1/)
    expect(err).toContain('stopped by the operator before the next part of the test')
    expect(asked[0]).toContain("Type 'yes' if you have read and understood the cautions")
    expect(asked[1]).toContain('serial number')
    expect(asked[2]).toMatch(/^Bridge off, shaft at rest\. Lock the shaft\. Hands off, then Enter/)
    const first = asked.slice(2, asked.findLastIndex(isNumber))
    expect(first.at(-1)).toContain('Take the locking device off; nothing may touch the shaft.')
    expect(asked.findLastIndex(isNumber)).toBe(asked.length - 2)
  })

  test('a real shaft is not driven where nobody can be asked', async () => {
    const real = await rigSaidReal(motor)
    onTestFinished(() => real.close())
    const outcome = await run(
      ...SHORT_TEST,
      '--port',
      real.path,
      '--batch',
      'nobody',
      '--serial-number',
      'N1',
    )
    expect(outcome.code).toBe(2)
    expect(outcome.err).toContain('the cautions have to be acknowledged at a terminal')
  })

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
