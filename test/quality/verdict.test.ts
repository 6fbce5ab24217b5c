import { describe, expect, test } from 'vitest'
import type { FitDocument } from '../../src/contract/fit-document.ts'
import { resolveLimits } from '../../src/quality/resolve-limits.ts'
import { judgeSample } from '../../src/quality/verdict.ts'
import type { Limit, LimitSet } from '../../src/records/limits.ts'
import { fitOf } from '../support/fit-documents.ts'

function limitSet(limits: readonly Limit[]): LimitSet {
  return {
    id: 1,
    typeId: 1,
    limits,
    referenceTemperatureCelsius: 20,
    referenceMotorIds: [],
    author: 'QC',
    reason: 'approval',
    setAt: '2026-01-01T00:00:00Z',
  }
}

const pool = [fitOf('a', 0.99, 1e-3), fitOf('b', 1, 1e-3), fitOf('c', 1.01, 1e-3)]
const percent = {
  quantity: 'resistance',
  unit: 'ohm',
  basis: 'percent',
  lower: -5,
  upper: 5,
} as const
const rule = { kind: 'conformity', probability: 0.95 } as const

function judge(
  fit: FitDocument | null,
  limits: readonly Limit[],
  entries: Parameters<typeof judgeSample>[0]['entries'] = [],
) {
  const resolved = resolveLimits(limitSet(limits), pool)
  if (!resolved.ok) throw new Error(resolved.error)
  return judgeSample({ motor: 's', serialNumber: '1', fit, entries }, resolved.value, 20, rule)
}

describe('limits', () => {
  test('per cent and sigma are of the pool', () => {
    const resolved = resolveLimits(
      limitSet([percent, { ...percent, basis: 'sigma', lower: -3, upper: 3 }]),
      pool,
    )
    expect(
      resolved.ok &&
        resolved.value.map(l => [l.band.lower, l.band.upper].map(v => Number(v!.toFixed(9)))),
    ).toEqual([
      [0.95, 1.05],
      [0.97, 1.03],
    ])
  })

  test.each([
    ['reversed', { ...percent, basis: 'absolute', lower: 2, upper: 1 }, pool, 'are they reversed?'],
    [
      'sigma of one motor',
      { ...percent, basis: 'sigma' },
      pool.slice(0, 1),
      'a reference of one motor has no spread',
    ],
    [
      'no such number',
      { ...percent, quantity: 'inertia' },
      pool,
      'no motor of the reference has this number',
    ],
    [
      'another temperature',
      percent,
      [fitOf('d', 1, 1, { referenceTemperatureCelsius: 25 })],
      "'d' of the reference was identified for 25 °C",
    ],
  ] as const)('%s is refused', (_, limit, reference, message) => {
    const resolved = resolveLimits(limitSet([limit]), reference)
    expect(resolved.ok ? '' : resolved.error).toContain(message)
  })
})

describe('a sample', () => {
  test.each([
    [1.0, 'pass'],
    [1.049, 'undecided'],
    [1.2, 'fail'],
  ])('with R = %d ohm against 0.95…1.05 is %s', (ohm, verdict) => {
    expect(judge(fitOf('s', ohm, 1e-3), [percent]).verdict).toBe(verdict)
  })

  test('that rubs is said to rub', () => {
    const friction = {
      quantity: 'noLoadCurrent',
      unit: 'A',
      basis: 'percent',
      lower: null,
      upper: 20,
    } as const
    const { verdict, standsOut } = judge(fitOf('s', 1, 1.31e-3), [friction, percent])
    expect(verdict).toBe('fail')
    expect(standsOut).toEqual(['Free-run current 31 % above the reference: friction'])
  })

  test('entries typed by hand count', () => {
    const insulation = {
      quantity: 'insulation',
      unit: 'Mohm',
      basis: 'absolute',
      lower: 10,
      upper: null,
    } as const
    const entry = { quantity: 'insulation', unit: 'Mohm', value: 2, standardUncertainty: null }
    expect(judge(fitOf('s', 1, 1e-3), [insulation], [entry]).verdict).toBe('fail')
    const without = judge(fitOf('s', 1, 1e-3), [insulation])
    expect(without.verdict).toBe('undecided')
    expect(without.quantities[0]!.remark).toContain('did not determine')
  })

  test('tested at 45 °C against limits at 20 °C carries a warning', () => {
    const { warnings } = judge(fitOf('s', 1, 1e-3, { testTemperatureCelsius: 45 }), [percent])
    expect(warnings[0]).toContain('tested at 45 °C')
  })

  test('not identified is undecided, not passed', () => {
    expect(judge(null, [percent]).verdict).toBe('undecided')
    expect(judge(fitOf('s', 1, 1e-3), []).verdict).toBe('undecided')
  })
})
