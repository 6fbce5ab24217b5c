import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { HEATING_EXAMPLE, heatingExample } from '../../scripts/make-heating-example.ts'
import { UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'
import { identifyHeat } from '../../src/thermal/heat-report.ts'
import { insulationClass } from '../../src/thermal/insulation.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { practiceMotor } from '../support/practice.ts'

const committed = readFileSync(
  new URL(`../../datasets/${HEATING_EXAMPLE}`, import.meta.url),
  'utf8',
)
const rowsOf = (text: string) =>
  text
    .trimEnd()
    .split('\n')
    .slice(1)
    .map(line => line.split(',').map(Number))

describe('the example of a heating run', () => {
  test('is what its script makes', () => {
    const [fresh, kept] = [rowsOf(heatingExample()), rowsOf(committed)]
    expect(kept.length).toBe(fresh.length)
    fresh.forEach((row, n) => {
      row.forEach((value, c) => {
        expect(Math.abs(value - kept[n]![c]!)).toBeLessThanOrEqual(
          2e-3 * Math.max(1, Math.abs(value)),
        )
      })
    })
  })

  test('gives the thermal numbers of its motor, from single readings of a slow logger', () => {
    const rows = rowsOf(committed)
    const column = (c: number, factor = 1) => Float64Array.from(rows, row => factor * row[c]!)
    const insulation = insulationClass('B')
    if (!insulation.ok) throw new Error(insulation.error)
    const found = identifyHeat(
      {
        id: 1,
        kind: 'heating',
        recording: {
          sampleCount: rows.length,
          timeSec: column(0),
          columns: { voltage: column(1), current: column(2, 1e-3) },
          bridge: null,
          edges: [],
          traits: {},
        },
        conditions: { ...UNKNOWN_CONDITIONS, windingCelsius: 23 },
      },
      {
        motor: 'm',
        insulation: insulation.value,
        ambientCelsius: 40,
        frictionWatt: 0,
        stall: null,
        brushDrop: null,
        contactOhm: null,
        backEmfConstant: null,
        torqueConstant: null,
        dragNm: 0,
        declaredMagnets: null,
        warmConstants: [],
      },
    )
    if (!found.ok) throw new Error(found.error)
    const { numbers } = found.value
    const { thermal } = practiceMotor('dormouse-12')
    for (const [got, truth] of [
      [numbers.windingToHousing, thermal.windingToHousingKPerW],
      [numbers.housingToAmbient, thermal.housingToAmbientKPerW],
      [numbers.windingHeat, thermal.windingJPerK],
      [numbers.housingHeat, thermal.housingJPerK],
    ] as const) {
      expectRelative(got.value!, truth, 0.06)
      expect(Math.abs(got.value! - truth)).toBeLessThan(3 * got.standardUncertainty!)
    }
  })
})
