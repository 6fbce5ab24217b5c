import { readFileSync, writeFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { readPracticeMotor } from '../src/contract/practice-motor.ts'
import { practiceHeatingRun } from '../src/practice-rig/heating-run.ts'
import type { Recording } from '../src/records/recording.ts'

/** Writes datasets/examples/dormouse-12-heating.csv: a heating and cooling run as a slow logger keeps it. */
const DATASETS = new URL('../datasets/', import.meta.url)
const MOTOR = 'dormouse-12'
export const HEATING_EXAMPLE = `examples/${MOTOR}-heating.csv`
const SEED = 12
/** Samples further apart than this belong to different looks at the motor. */
const APART_SEC = 0.1
/** Every so manieth look is kept. */
const KEPT = 2

export function heatingExample(): string {
  const file = `motors/${MOTOR}.json`
  const motor = readPracticeMotor(readFileSync(new URL(file, DATASETS), 'utf8'), file)
  const { recording } = practiceHeatingRun(motor, SEED, { heatSec: 1100, coolSec: 1400 })
  const rows = looksOf(recording).flatMap((look, n) => (n % KEPT === 0 ? look : []))
  return `${['time [s],voltage [V],current [mA]', ...rows].join('\n')}\n`
}

/** Of each look: what flowed in the end of it as one mean, and the samples without current about it. */
function looksOf({ timeSec, columns, sampleCount }: Recording): string[][] {
  const [volt, amp] = [columns.voltage!, columns.current!]
  const row = (time: number, v: number, a: number) =>
    `${time.toFixed(3)},${v.toFixed(4)},${(1000 * a).toFixed(3)}`
  const looks: string[][] = []
  let start = 0
  for (let i = 1; i <= sampleCount; i++) {
    if (i < sampleCount && timeSec![i]! - timeSec![i - 1]! < APART_SEC) continue
    const flows = (n: number) => Math.abs(amp[n]!) > 3e-3
    let [first, last] = [start, i - 1]
    // The first look runs from a small pulse into the heating: the heating is kept.
    if (start === 0) first = last - 20
    while (first < last && !flows(first)) first++
    while (last > first && !flows(last)) last--
    const half = Math.ceil((first + last) / 2)
    let [t, v, a] = [0, 0, 0]
    for (let n = half; n < last; n++) {
      t += timeSec![n]! / (last - half)
      v += volt[n]! / (last - half)
      a += amp[n]! / (last - half)
    }
    looks.push([
      ...(first > start ? [row(timeSec![first - 1]!, 0, 0)] : []),
      ...(last > half ? [row(t, v, a)] : []),
      ...(last < i - 1 ? [row(timeSec![last + 1]!, 0, 0)] : []),
    ])
    start = i
  }
  return looks
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  const text = heatingExample()
  writeFileSync(new URL(HEATING_EXAMPLE, DATASETS), text)
  console.log(`datasets/${HEATING_EXAMPLE}: ${text.split('\n').length - 2} rows`)
}
