import { readFileSync, writeFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { readPracticeMotor } from '../src/contract/practice-motor.ts'
import { createPlant } from '../src/practice-rig/create-plant.ts'
import { defaultBench } from '../src/practice-rig/default-bench.ts'
import { type PracticeStep, recordPractice } from '../src/practice-rig/record-practice.ts'
import { BRIDGE, type Recording } from '../src/records/recording.ts'

/** Writes datasets/examples: a few short recordings of one practice motor, as an oscilloscope or a meter gives them. */
const DATASETS = new URL('../datasets/', import.meta.url)
const MOTOR = 'hazelnut-24'
const SEED = 24
const RPM = Math.PI / 30

interface Column {
  readonly header: string
  readonly decimals: number
  readonly of: (recording: Recording, sample: number) => number
}

const TIME_MS: Column = {
  header: 'time [ms]',
  decimals: 1,
  of: (r, n) => 1000 * r.timeSec![n]!,
}
const TIME: Column = { header: 'time [s]', decimals: 4, of: (r, n) => r.timeSec![n]! }
const VOLTAGE: Column = { header: 'voltage [V]', decimals: 3, of: (r, n) => r.columns.voltage![n]! }
const CURRENT: Column = { header: 'current [A]', decimals: 4, of: (r, n) => r.columns.current![n]! }
const SPEED: Column = {
  header: 'speed [rpm]',
  decimals: 1,
  of: (r, n) => r.columns.speed![n]! / RPM,
}

const drive = (setVolt: number, durationSec: number): PracticeStep => ({
  bridge: 'drive',
  setVolt,
  durationSec,
})
const coast = (durationSec: number): PracticeStep => ({ bridge: 'coast', setVolt: 0, durationSec })
const SHARES = [0.25, 0.4, 0.6, 0.8, 1]
const FREE_LEVELS = [...SHARES, ...SHARES.map(share => -share)]

/** File name to text. */
export function exampleFiles(): Map<string, string> {
  const file = `motors/${MOTOR}.json`
  const motor = readPracticeMotor(readFileSync(new URL(file, DATASETS), 'utf8'), file)
  const bench = defaultBench(motor)
  const record = (
    run: number,
    steps: readonly PracticeStep[],
    rateHz: number,
    lockedAt?: number,
  ) => {
    const plant = createPlant(motor, bench, SEED * 100 + run, { benchSeed: SEED })
    if (lockedAt !== undefined) plant.setShaft({ hold: 'locked', angleRad: lockedAt })
    return recordPractice(plant, steps, rateHz)
  }

  const pulses = [4, 8, 12].flatMap(volt => [
    drive(volt, 0.006),
    coast(0.003),
    drive(-volt, 0.006),
    coast(0.003),
  ])
  const locked = record(1, [coast(0.002), ...pulses], 5000, 1.37)
  const freeRun = record(
    2,
    FREE_LEVELS.map(share => drive(24 * share, 0.6)),
    50,
  )
  const runUp = record(3, [coast(0.01), drive(24, 0.2)], 2000)
  const coastDown = record(4, [drive(24, 0.4), coast(1.1)], 250)
  const scope = record(5, [drive(12, 0.3), drive(24, 0.3), coast(0.2)], 5000)
  return new Map([
    [`${MOTOR}-locked-rotor.csv`, csv(locked, [TIME_MS, VOLTAGE, CURRENT])],
    [`${MOTOR}-free-run.csv`, csv(freeRun, [TIME, VOLTAGE, CURRENT, SPEED])],
    [`${MOTOR}-run-up.csv`, csv(runUp, [TIME_MS, VOLTAGE, CURRENT, SPEED])],
    [`${MOTOR}-coast-down.csv`, csv(coastDown, [TIME, VOLTAGE, CURRENT, SPEED])],
    [`${MOTOR}-scope.csv`, csv(scope, [TIME, VOLTAGE, CURRENT])],
    [`${MOTOR}-free-run-table.csv`, handReadTable(freeRun)],
  ])
}

const BRIDGE_WORD = new Map<number, string>(
  Object.entries(BRIDGE).map(([word, code]) => [code, word]),
)

function csv(recording: Recording, columns: readonly Column[]): string {
  const lines = [[...columns.map(c => c.header), 'bridge'].join(',')]
  for (let n = 0; n < recording.sampleCount; n++) {
    const cells = columns.map(c => fixed(c.of(recording, n), c.decimals))
    lines.push([...cells, BRIDGE_WORD.get(recording.bridge![n]!)].join(','))
  }
  return `${lines.join('\n')}\n`
}

/** One line a voltage, as read from a panel meter, a clamp meter and a stroboscope once all stood still. */
function handReadTable(freeRun: Recording): string {
  const perLevel = freeRun.sampleCount / FREE_LEVELS.length
  const mean = (column: Column, level: number) => {
    const last = perLevel / 2
    let sum = 0
    for (let n = 0; n < last; n++) sum += column.of(freeRun, (level + 1) * perLevel - 1 - n)
    return sum / last
  }
  const rows = FREE_LEVELS.map((_, level) =>
    [
      mean(VOLTAGE, level).toFixed(2),
      (1000 * mean(CURRENT, level)).toFixed(0),
      (10 * Math.round(mean(SPEED, level) / 10)).toFixed(0),
    ].join(','),
  )
  return `${['voltage [V],current [mA],speed [rpm]', ...rows].join('\n')}\n`
}

/** Without the minus sign that rounding leaves before zero. */
const fixed = (value: number, decimals: number) =>
  value.toFixed(decimals).replace(/^-(0\.?0*)$/, '$1')

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  for (const [name, text] of exampleFiles()) {
    writeFileSync(new URL(`examples/${name}`, DATASETS), text)
    console.log(`datasets/examples/${name}: ${text.split('\n').length - 2} rows`)
  }
}
