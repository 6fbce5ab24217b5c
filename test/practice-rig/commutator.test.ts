import { describe, expect, test } from 'vitest'
import { ripplesPerTurn, solveCommutator } from '../../src/practice-rig/commutator.ts'
import type { PracticeMotor } from '../../src/records/practice-motor.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { practiceMotor } from '../support/practice.ts'

const CELLS = 8192

/** Even coils and segments, sinusoidal linkage, narrow brushes: the case of the published formula. */
function evenRing(segments: number, polePairs: number): PracticeMotor {
  const motor = practiceMotor('peppercorn-3')
  return {
    ...motor,
    winding: {
      ...motor.winding,
      segments,
      polePairs,
      coilUnevenness: 0,
      segmentUnevenness: 0,
    },
    magnet: { ...motor.magnet, flatness: 0, rippleShare: 1 },
    brush: { ...motor.brush, widthSegments: 0.01, shortingShare: 1 },
  }
}

function peakToPeakOverMean(turn: Float64Array): number {
  const mean = turn.reduce((sum, x) => sum + x, 0) / turn.length
  return (Math.max(...turn) - Math.min(...turn)) / mean
}

/** Amplitudes of the harmonics 1 … `highest` of a turn. */
function harmonics(turn: Float64Array, highest: number): number[] {
  return Array.from({ length: highest }, (_, n) => {
    let real = 0
    let imaginary = 0
    turn.forEach((x, c) => {
      const angle = (2 * Math.PI * (n + 1) * c) / turn.length
      real += x * Math.cos(angle)
      imaginary += x * Math.sin(angle)
    })
    return (2 * Math.hypot(real, imaginary)) / turn.length
  })
}

describe('torque ripple of N coils', () => {
  const source =
    'Al Mamun, Guo, Bi, Hard Disk Drive: Mechatronics and Control (CRC Press 2007), eqs 4.44-4.46'
  const published = [
    { segments: 3, percent: 14.0298, ripples: 6 },
    { segments: 4, percent: 32.5323, ripples: 4 },
    { segments: 5, percent: 4.9758, ripples: 10 },
    { segments: 6, percent: 14.0298, ripples: 6 },
    { segments: 7, percent: 2.5284, ripples: 14 },
    { segments: 8, percent: 7.8113, ripples: 8 },
    { segments: 9, percent: 1.527, ripples: 18 },
    { segments: 11, percent: 1.0213, ripples: 22 },
    { segments: 12, percent: 3.4467, ripples: 12 },
    { segments: 16, percent: 1.9339, ripples: 16 },
  ]
  test.each(published)(`$segments coils: $percent %, $ripples a turn (${source})`, row => {
    const turn = solveCommutator(evenRing(row.segments, 1), CELLS)
    // The brush of finite width and the cells blunt the cusps a little.
    expectRelative(100 * peakToPeakOverMean(turn.constant), row.percent, 0.02)
    const lines = harmonics(turn.constant, 40)
    expect(lines.indexOf(Math.max(...lines)) + 1).toBe(row.ripples)
    expect(ripplesPerTurn(row.segments, 1)).toBe(row.ripples)
  })
})

describe('ring of coils', () => {
  test.each([
    { segments: 10, polePairs: 2, ripples: 20 },
    { segments: 16, polePairs: 2, ripples: 16 },
    { segments: 23, polePairs: 2, ripples: 92 },
    { segments: 24, polePairs: 2, ripples: 24 },
    { segments: 15, polePairs: 3, ripples: 30 },
  ])(
    'lcm(N, 2p): $segments segments and $polePairs pole pairs ripple $ripples times a turn',
    row => {
      expect(ripplesPerTurn(row.segments, row.polePairs)).toBe(row.ripples)
      const lines = harmonics(
        solveCommutator(evenRing(row.segments, row.polePairs), CELLS).constant,
        120,
      )
      expect(lines.indexOf(Math.max(...lines)) + 1).toBe(row.ripples)
    },
  )

  test('means over the turn are the numbers of the motor file', () => {
    const motor = practiceMotor('brindle-12')
    const turn = solveCommutator(motor, CELLS)
    const mean = (x: Float64Array) => x.reduce((sum, y) => sum + y, 0) / x.length
    expectRelative(mean(turn.constant), motor.magnet.backEmfConstantVsPerRad, 1e-12)
    expectRelative(mean(turn.copperOhm), motor.winding.copperOhm, 1e-12)
  })

  test('a wide brush shorts a coil: fewer coils in a path, less resistance', () => {
    const motor = evenRing(5, 1)
    const turn = solveCommutator({ ...motor, brush: { ...motor.brush, widthSegments: 0.4 } }, CELLS)
    // Five equal coils: 2 parallel 3 is 1.2, one coil shorted 2 parallel 2 is 1, by hand.
    expectRelative(Math.max(...turn.copperOhm) / Math.min(...turn.copperOhm), 1.2, 1e-9)
  })

  test('unequal coils and segments add lines below the commutation rate', () => {
    const motor = evenRing(7, 1)
    const even = harmonics(solveCommutator(motor, CELLS).constant, 13)
    const uneven = harmonics(
      solveCommutator(
        { ...motor, winding: { ...motor.winding, coilUnevenness: 0.03, segmentUnevenness: 0.03 } },
        CELLS,
      ).constant,
      13,
    )
    const scale = motor.magnet.backEmfConstantVsPerRad
    expect(Math.max(...even)).toBeLessThan(1e-6 * scale)
    expect(Math.max(...uneven)).toBeGreaterThan(1e-3 * scale)
  })

  test('refuses a brush that would join both terminals', () => {
    const motor = evenRing(3, 1)
    expect(() =>
      solveCommutator({ ...motor, brush: { ...motor.brush, widthSegments: 0.6 } }, CELLS),
    ).toThrow('brush.widthSegments = 0.6; must be <= segments / (2 polePairs) - 1.08')
  })
})
