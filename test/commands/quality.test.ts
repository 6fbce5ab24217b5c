import { beforeAll, describe, expect, test } from 'vitest'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import { openStore } from '../../server/store/open-store.ts'
import { commandBench } from '../support/command-runner.ts'
import { fitOf } from '../support/fit-documents.ts'

const { db, run } = commandBench()

/** Three approved motors and a lot of twelve; the last one rubs. */
beforeAll(() => {
  const store = openStore(db, { now: Date.now })
  const normal = seededNormal(seededUniform(4))
  store.types.add({ name: 'RX-12' })
  const typeId = store.types.named('RX-12').id
  const add = (name: string, serialNumber: string, resistance: number, coulomb: number) => {
    const motor = store.motors.add({ name, typeId, serialNumber })
    const document = fitOf(name, resistance, coulomb)
    store.fits.add({ motorId: motor.id, runIds: [], document, settings: {}, inputsHash: '' })
  }
  for (const i of [1, 2, 3]) add(`approved ${i}`, `A${i}`, 1 + 0.005 * normal(), 1e-3)
  for (let i = 1; i <= 12; i++)
    add(`lot ${i}`, `L${i}`, 1 + 0.01 * normal(), i === 12 ? 1.4e-3 : 1e-3 * (1 + 0.01 * normal()))
  store.close()
})

const lot = Array.from({ length: 12 }, (_, i) => `lot ${i + 1}`)
const reference = [
  '--reference',
  'approved 1',
  '--reference',
  'approved 2',
  '--reference',
  'approved 3',
]

describe('from limits to a verdict', () => {
  test('limits have an author and a reason, and old ones stay', async () => {
    const first = await run(
      'limits',
      'set',
      '--type',
      'RX-12',
      ...reference,
      '--limit',
      'resistance=-3%..3%',
      '--author',
      'Q',
      '--reason',
      'approval',
    )
    expect(first).toMatchObject({ code: 0 })
    await run(
      'limits',
      'set',
      '--type',
      'RX-12',
      ...reference,
      '--limit',
      'resistance=-6%..+6%',
      '--limit',
      'noLoadCurrent=..20%',
      '--limit',
      'insulation [Mohm]=10..',
      '--author',
      'Q',
      '--reason',
      'agreed with the maker',
    )
    const { sets } = JSON.parse((await run('limits', '--type', 'RX-12', '--history', '--json')).out)
    expect(sets.map((s: { reason: string }) => s.reason)).toEqual([
      'agreed with the maker',
      'approval',
    ])
    expect(sets[0].limits[1]).toEqual({
      quantity: 'noLoadCurrent',
      unit: 'A',
      basis: 'percent',
      lower: null,
      upper: 20,
    })
  })

  test('a batch is judged: the one that rubs fails and is said to rub', async () => {
    expect((await run('batch', 'add', 'delivery 7', ...lot)).err).toContain('has 12 motors')
    for (const motor of lot) {
      await run(
        'batch',
        'enter',
        '--motor',
        motor,
        '--quantity',
        'insulation',
        '--unit',
        'Mohm',
        '--value',
        '50',
        '--author',
        'Q',
      )
    }
    const { code, out } = await run(
      'compare',
      '--batch',
      'delivery 7',
      '--against',
      'RX-12',
      '--json',
    )
    expect(code).toBe(0)
    const comparison = JSON.parse(out)
    expect(comparison.counts).toEqual({ pass: 11, fail: 1, undecided: 0 })
    const rubs = comparison.samples.find((s: { motor: string }) => s.motor === 'lot 12')
    expect(rubs.standsOut[0]).toBe('Free-run current 40 % above the reference: friction')
    const text = (await run('compare', '--batch', 'delivery 7', '--against', 'RX-12')).out
    expect(text).toContain('11 pass, 1 fail, 0 undecided')
    expect(text).toContain("outlier (Grubbs, 5 %): 'lot 12'")
  })

  test('an entry typed by hand can fail a sample, and a missing one leaves it undecided', async () => {
    await run(
      'batch',
      'enter',
      '--motor',
      'lot 1',
      '--quantity',
      'insulation',
      '--unit',
      'Mohm',
      '--value',
      '2',
      '--author',
      'Q',
    )
    const { counts } = JSON.parse(
      (await run('compare', '--batch', 'delivery 7', '--against', 'RX-12', '--json')).out,
    )
    expect(counts).toEqual({ pass: 10, fail: 2, undecided: 0 })
    await run('batch', 'add', 'small', 'approved 1', 'lot 2')
    const small = JSON.parse(
      (
        await run(
          'compare',
          '--batch',
          'small',
          '--against',
          'RX-12',
          '--with',
          'delivery 7',
          '--json',
        )
      ).out,
    )
    expect(small.counts).toEqual({ pass: 1, fail: 0, undecided: 1 })
    expect(small.quantities[0].remarks[0]).toContain('2 values')
    expect(small.against.means.length).toBeGreaterThan(0)
  })

  test('two samples with one serial number are told', async () => {
    await run('motors', 'tag', 'lot 3', '--serial-number', 'L4')
    const { warnings } = JSON.parse(
      (await run('compare', '--batch', 'delivery 7', '--against', 'RX-12', '--json')).out,
    )
    expect(warnings[0]).toContain("serial number L4 stands on 'lot 3' and 'lot 4'")
  })

  test.each([
    [
      [
        'limits',
        'set',
        '--type',
        'RX-12',
        '--limit',
        'resistance=2..1',
        '--author',
        'Q',
        '--reason',
        'r',
        ...reference,
      ],
      'is not below upper',
    ],
    [
      [
        'limits',
        'set',
        '--type',
        'RX-12',
        '--limit',
        'resistance',
        '--author',
        'Q',
        '--reason',
        'r',
      ],
      'cannot be read',
    ],
    [
      [
        'limits',
        'set',
        '--type',
        'RX-12',
        '--limit',
        'colour=1..2',
        '--author',
        'Q',
        '--reason',
        'r',
        ...reference,
      ],
      "'colour' is no number of the reference",
    ],
    [
      [
        'limits',
        'set',
        '--type',
        'RX-12',
        '--limit',
        'resistance=1..5%',
        '--author',
        'Q',
        '--reason',
        'r',
        ...reference,
      ],
      'mixes absolute and percent',
    ],
    [['compare', '--batch', 'none', '--against', 'RX-12'], "no batch named 'none'"],
    [
      ['compare', '--batch', 'delivery 7', '--against', 'RX-12', '--rule', 'gut'],
      'needs one of simple, conformity, consumer-risk',
    ],
  ])('%j is refused', async (args, message) => {
    const outcome = await run(...args)
    expect(outcome).toMatchObject({ code: 2, out: '' })
    expect(outcome.err).toContain(message)
  })

  test('sigma limits of a single reference motor are refused when they are used', async () => {
    await run('types', 'add', 'RX-1')
    await run(
      'limits',
      'set',
      '--type',
      'RX-1',
      '--reference',
      'approved 1',
      '--limit',
      'resistance=-3s..3s',
      '--author',
      'Q',
      '--reason',
      'r',
    )
    const outcome = await run('compare', '--batch', 'small', '--against', 'RX-1')
    expect(outcome.code).toBe(2)
    expect(outcome.err).toContain('a reference of one motor has no spread')
  })
})

describe('a gauge study', () => {
  test('guides to equal numbers of trials and analyses them', async () => {
    const store = openStore(db, { now: Date.now })
    const normal = seededNormal(seededUniform(8))
    const measure = (motor: string, ohm: number) => {
      const motorId = store.motors.named(motor).id
      const document = fitOf(motor, ohm + 0.001 * normal(), 1e-3)
      store.fits.add({ motorId, runIds: [], document, settings: {}, inputsHash: '' })
    }
    let last = ''
    for (const operator of ['Ada', 'Ben']) {
      for (let trial = 0; trial < 2; trial++) {
        for (let part = 1; part <= 4; part++) {
          measure(`lot ${part}`, 1 + 0.01 * part + (operator === 'Ben' ? 0.002 : 0))
          last = (
            await run(
              'gauge-study',
              'add',
              '--study',
              'spring',
              '--motor',
              `lot ${part}`,
              '--operator',
              operator,
            )
          ).err
        }
      }
    }
    store.close()
    expect(last).toContain('16 trials: 4 motors, 2 operators, 2 of each')
    expect(
      (
        await run(
          'gauge-study',
          'add',
          '--study',
          'spring',
          '--motor',
          'lot 4',
          '--operator',
          'Ben',
        )
      ).code,
    ).toBe(2)
    const study = JSON.parse(
      (
        await run(
          'gauge-study',
          'analyse',
          '--study',
          'spring',
          '--quantity',
          'resistance',
          '--json',
        )
      ).out,
    )
    expect(study.gaugeShare).toBeLessThan(0.3)
    expect(study.distinctCategories).toBeGreaterThanOrEqual(4)
    expect(
      (await run('gauge-study', 'analyse', '--study', 'autumn', '--quantity', 'resistance')).err,
    ).toContain("there is 'spring'")
  })
})

describe('a check motor', () => {
  test('says a drift of the bench before samples are failed', async () => {
    const store = openStore(db, { now: Date.now })
    const normal = seededNormal(seededUniform(12))
    const motor = store.motors.add({ name: 'check', serialNumber: 'C1' })
    const measure = (ohm: number) =>
      store.fits.add({
        motorId: motor.id,
        runIds: [],
        document: fitOf('check', ohm, 1e-3 * (1 + 0.001 * normal())),
        settings: {},
        inputsHash: '',
      })
    let last = { code: 0, out: '', err: '' }
    for (let shift = 0; shift < 8; shift++) {
      measure(shift === 7 ? 1.05 : 1 + 0.002 * normal())
      last = await run('gauge-study', 'check', '--motor', 'check', '--operator', 'Ada')
      expect(last.code).toBe(0)
      if (shift === 6) expect(last.out).toContain('no drift of the bench is seen')
    }
    store.close()
    expect(last.out).toContain('the bench has drifted, look at it before any sample is failed')
    const again = await run('gauge-study', 'check', '--motor', 'check', '--operator', 'Ada')
    expect(again).toMatchObject({ code: 2 })
    expect(again.err).toContain('was counted already')
    const { warnings } = JSON.parse(
      (await run('compare', '--batch', 'delivery 7', '--against', 'RX-12', '--json')).out,
    )
    expect(warnings[0]).toContain('the bench has drifted')
  })
})
