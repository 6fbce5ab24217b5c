import { readdirSync, readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { exampleFiles } from '../../scripts/make-examples.ts'
import { practiceTruth } from '../../src/practice-rig/practice-truth.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { practiceMotor } from '../support/practice.ts'

const FOLDER = new URL('../../datasets/examples/', import.meta.url)
const committed = (name: string) => readFileSync(new URL(name, FOLDER), 'utf8')
const made = exampleFiles()

const rowsOf = (text: string) =>
  text
    .trimEnd()
    .split('\n')
    .slice(1)
    .map(line => line.split(','))

describe('example recordings', () => {
  test('all that the script makes are there, and they stay small', () => {
    const present = readdirSync(FOLDER).filter(name => name.startsWith('hazelnut-24'))
    expect(present.sort()).toEqual([...made.keys()].sort())
    for (const [name, text] of made) {
      // Ripple takes some thousand samples a second.
      expect(rowsOf(text).length).toBeLessThan(name.includes('scope') ? 4500 : 500)
    }
  })

  test.each([...made.keys()])('%s is what the script makes', name => {
    const [fresh, kept] = [made.get(name)!, committed(name)]
    expect(kept.split('\n')[0]).toBe(fresh.split('\n')[0])
    const [freshRows, keptRows] = [rowsOf(fresh), rowsOf(kept)]
    expect(keptRows.length).toBe(freshRows.length)
    freshRows.forEach((row, n) => {
      row.forEach((cell, c) => {
        const other = keptRows[n]![c]!
        const [a, b] = [Number(cell), Number(other)]
        // The last digit may round otherwise where a platform's tanh or sin differs in its last bit.
        if (Number.isNaN(a)) expect(other).toBe(cell)
        else expect(Math.abs(a - b)).toBeLessThanOrEqual(2e-3 * Math.max(1, Math.abs(a)))
      })
    })
  })

  test('the hand-read table gives k and T_c by pencil', () => {
    const rows = rowsOf(committed('hazelnut-24-free-run-table.csv')).map(row => row.map(Number))
    const truth = practiceTruth(practiceMotor('hazelnut-24'))
    const volt = (i: number) => 5.5 * i + 0.9 * Math.tanh(i / 0.12)
    const [v, mA, rpm] = rows[4]! as [number, number, number]
    expectRelative(
      (v - volt(mA / 1000)) / ((rpm * Math.PI) / 30),
      truth.backEmfConstant.value,
      3e-3,
    )
    const low = (rows[0]![1]! - rows[5]![1]!) / 2000
    const lowSpeed = (rows[0]![2]! * Math.PI) / 30
    const friction = truth.torqueConstant.value * low - truth.viscousCoefficient.value * lowSpeed
    expectRelative(friction, truth.coulombTorque.value, 0.03)
  })
})
