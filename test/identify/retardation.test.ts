import { describe, test } from 'vitest'
import { analyseCoastDown } from '../../src/analysis/coast-down.ts'
import { combineMechanical } from '../../src/identify/mechanical-combination.ts'
import { BRIDGE } from '../../src/records/recording.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { asRun } from '../support/simulate-motor.ts'

const RPM = Math.PI / 30
const COMPANION = 'printed answers of the textbook companion, books not opened'

/** A coast of which only the end points are told, as a straight fall of the speed, under a known load torque. */
function coast(run: number, fromRpm: number, toRpm: number, sec: number, loadTorqueNm: number) {
  const sampleCount = 200
  const timeSec = Float64Array.from(
    { length: sampleCount },
    (_, n) => (n * sec) / (sampleCount - 1),
  )
  const speed = timeSec.map(t => (fromRpm + ((toRpm - fromRpm) * t) / sec) * RPM)
  const result = analyseCoastDown(
    asRun(run, 'coast-down', {
      sampleCount,
      timeSec,
      columns: { speed },
      bridge: new Uint8Array(sampleCount).fill(BRIDGE.coast),
      edges: [],
      traits: {},
    }),
  )
  if (!result.ok) throw new Error(result.error.text)
  return { run, moving: result.value.moving, addedInertiaKgM2: 0, loadTorqueNm }
}

/**
 * The retardation test: two coasts over the same speeds, one with a known extra load, tell J and the loss. Torques
 * stand for currents here (constant 1).
 */
function retardation(example: (typeof examples)[number]) {
  const [high, low] = example.rpm
  const mean = ((high! + low!) / 2) * RPM
  const result = combineMechanical(
    [
      coast(1, high!, low!, example.freeSec, 0),
      coast(2, high!, low!, example.loadedSec, example.extraWatt / mean),
    ],
    { perTorque: 1, holdTorque: true, freed: [], held: [null, null, null, null, null] },
  )!
  return { inertia: result.values[4]!, strayWatt: result.values[0]! * mean }
}

const examples = [
  {
    name: 'Theraja, A Textbook of Electrical Technology II, ex. 31.19, p. 1108',
    rpm: [1030, 970],
    freeSec: 15,
    loadedSec: 9,
    extraWatt: 2190,
    published: { inertia: 74.89, stray: 3285 },
    recomputed: 74.88901986,
  },
  {
    name: 'Bakshi, DC Machines and Synchronous Machines, ex. 3.20, p. 43',
    rpm: [1030, 970],
    freeSec: 20,
    loadedSec: 9,
    extraWatt: 2250,
    published: { inertia: 55.96, stray: 1840.9 },
    recomputed: 55.9569264,
  },
  {
    name: 'Theraja, ex. 31.17, p. 1107 (prints 121.7 with π = 3.14)',
    rpm: [1525, 1475],
    freeSec: 25,
    loadedSec: 20,
    extraWatt: 1000,
    published: { inertia: 121.6, stray: 4000 },
    recomputed: 121.58542037,
  },
]

describe.each(examples)(`retardation test: $name (${COMPANION})`, example => {
  const found = retardation(example)
  test(`inertia ${example.published.inertia} kg m2`, () => {
    expectRelative(found.inertia, example.published.inertia, 2e-4)
    expectRelative(found.inertia, example.recomputed, 1e-6)
  })
  test(`loss ${example.published.stray} W`, () =>
    expectRelative(found.strayWatt, example.published.stray, 1e-4))
})
