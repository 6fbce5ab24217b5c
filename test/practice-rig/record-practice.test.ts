import { describe, expect, test } from 'vitest'
import { createPlant } from '../../src/practice-rig/create-plant.ts'
import { defaultBench } from '../../src/practice-rig/default-bench.ts'
import { CLEAN, REALISTIC, withImperfections } from '../../src/practice-rig/imperfections.ts'
import { practiceRun, practiceSuite } from '../../src/practice-rig/practice-run.ts'
import { practiceTruth } from '../../src/practice-rig/practice-truth.ts'
import { recordPractice } from '../../src/practice-rig/record-practice.ts'
import { BRIDGE, type Recording } from '../../src/records/recording.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { practiceMotor } from '../support/practice.ts'

const SPREAD = ['peppercorn-3', 'dormouse-12', 'fennimore-24', 'coriander-48', 'ploughman-24']

/** Least squares by normal equations: coefficients of the columns. */
function regress(columns: readonly (readonly number[])[], y: readonly number[]): number[] {
  const n = columns.length
  const rows = columns.map(a => [
    ...columns.map(b => a.reduce((sum, x, k) => sum + x * b[k]!, 0)),
    a.reduce((sum, x, k) => sum + x * y[k]!, 0),
  ])
  for (let p = 0; p < n; p++) {
    for (let r = 0; r < n; r++) {
      if (r === p) continue
      const factor = rows[r]![p]! / rows[p]![p]!
      for (let c = p; c <= n; c++) rows[r]![c]! -= factor * rows[p]![c]!
    }
  }
  return rows.map((row, p) => row[n]! / row[p]!)
}

/** Means of a column over the last `share` of each driven stretch. */
function plateaus(recording: Recording, quantity: 'voltage' | 'current' | 'speed', share: number) {
  const column = recording.columns[quantity]!
  const ends = [...recording.edges.slice(1).map(e => e.timeSec), Number.POSITIVE_INFINITY]
  return recording.edges.flatMap((edge, n) => {
    if (edge.state !== 'drive') return []
    const end = Math.min(ends[n]!, recording.timeSec!.at(-1)!)
    const from = end - share * (end - edge.timeSec)
    const inside = Array.from(column).filter((_, k) => {
      const t = recording.timeSec![k]!
      return t > from && t < end
    })
    return [inside.reduce((sum, x) => sum + x, 0) / inside.length]
  })
}

describe('clean recordings give the truth back to textbook regressions', () => {
  test.each(SPREAD)('%s', name => {
    const motor = practiceMotor(name)
    const truth = practiceTruth(motor, CLEAN.imperfections)
    const warm = (234.5 + 23) / (234.5 + 20)
    const ohm = motor.winding.copperOhm * warm + motor.brush.contactOhm
    const choices = { switches: CLEAN, rateHz: 50_000 }

    const locked = practiceRun(motor, 'locked-rotor', 1, choices).recording
    const [volts, amps] = [plateaus(locked, 'voltage', 0.3), plateaus(locked, 'current', 0.3)]
    const [resistance, drop] = regress(
      [amps, amps.map(i => Math.tanh(i / motor.brush.kneeAmp))],
      volts,
    )
    expectRelative(resistance!, ohm, 2e-3)
    expectRelative(drop!, motor.brush.dropVolt, 2e-2)

    // V s = L Δi + ∫(R i + drop) over the rise of the last positive pulse.
    const { timeSec, columns } = locked
    const pulse = locked.edges.filter(e => e.state === 'drive' && e.setVolt! > 0).at(-1)!
    const dt = 1 / 50_000
    const from = timeSec!.findIndex(t => t > pulse.timeSec + dt / 2)
    const tau = motor.winding.inductanceHenry / ohm
    let flux = 0
    let k = from
    for (; k < from + Math.ceil((3 * tau) / dt); k++) {
      const i = columns.current![k]!
      flux +=
        dt *
        (columns.voltage![k]! - ohm * i - motor.brush.dropVolt * Math.tanh(i / motor.brush.kneeAmp))
    }
    const rise = (columns.current![k - 1]! + columns.current![k]!) / 2
    expectRelative(flux / rise, truth.inductance.value, 2e-2)

    const free = practiceRun(motor, 'free-run', 2, choices).recording
    const [v, i, w] = (['voltage', 'current', 'speed'] as const).map(q => plateaus(free, q, 0.3))
    const emf = v!.map(
      (volt, n) =>
        volt - ohm * i![n]! - motor.brush.dropVolt * Math.tanh(i![n]! / motor.brush.kneeAmp),
    )
    const [backEmf] = regress([w!], emf)
    expectRelative(backEmf!, truth.backEmfConstant.value, 1e-3)
    const torque = i!.map(x => x * truth.torqueConstant.value)
    const [coulomb, viscous] = regress(
      [w!.map(Math.sign), w!, w!.map(x => x * Math.abs(x))],
      torque,
    )
    expectRelative(coulomb!, truth.coulombTorque.value, 1e-2)
    expectRelative(viscous!, truth.viscousCoefficient.value, 0.1)

    // Coast from the end of the freewheel pulse: J Δω = -(T_c t + B θ + C ∫ω²).
    const coasting = practiceRun(motor, 'coast-down', 3, choices).recording
    const edge = coasting.edges.at(-1)!.timeSec
    const speed = coasting.columns.speed!
    const lag = coasting.traits.speed!.apertureSec / 2
    const first = coasting.timeSec!.findIndex(t => t > edge + 0.01 + lag)
    const last = first + Math.floor(0.1 / dt)
    let drag = 0
    const { coulombTorque, viscousCoefficient, windageCoefficient } = truth
    for (let n = first; n < last; n++) {
      const x = speed[n]!
      drag +=
        dt * (coulombTorque.value + viscousCoefficient.value * x + windageCoefficient.value * x * x)
    }
    expectRelative(drag / (speed[first]! - speed[last]!), truth.inertia.value, 5e-3)
  })
})

describe('the stated truth', () => {
  test.each(['brindle-12', 'marrow-36', 'peppercorn-3', 'stagbeetle-48'])(
    '%s: sliding friction with ripple drag is what a noiseless free run shows',
    name => {
      const motor = practiceMotor(name)
      const switches = withImperfections(CLEAN, { commutationRipple: true, windingAngle: true })
      const truth = practiceTruth(motor, switches.imperfections)
      const run = practiceRun(motor, 'free-run', 1, { switches: { ...switches, noiseScale: 0 } })
      const amps = plateaus(run.recording, 'current', 0.2)
      const speeds = plateaus(run.recording, 'speed', 0.2)
      const [coulomb] = regress(
        [speeds.map(Math.sign), speeds, speeds.map(x => x * Math.abs(x))],
        amps.map(i => i * truth.torqueConstant.value),
      )
      expectRelative(coulomb!, truth.coulombTorque.value, 1e-2)
    },
  )
})

describe('recording', () => {
  const motor = practiceMotor('hazelnut-24')

  test('edges carry their exact times, off the sample grid', () => {
    const plant = createPlant(motor, defaultBench(motor), 1)
    const steps = [
      { bridge: 'coast', setVolt: 0, durationSec: 0.0101234 },
      { bridge: 'drive', setVolt: 6, durationSec: 0.0203333 },
      { bridge: 'brake', setVolt: 0, durationSec: 0.0100001 },
    ] as const
    const recording = recordPractice(plant, steps, 10_000)
    expect(recording.sampleCount).toBe(404)
    expect(recording.edges.map(e => e.state)).toEqual(['coast', 'drive', 'brake'])
    expectRelative(recording.edges[1]!.timeSec, 0.0101234, 1e-12)
    expectRelative(recording.edges[2]!.timeSec, 0.0304567, 1e-12)
    expect(recording.bridge![100]).toBe(BRIDGE.coast)
    expect(recording.bridge![101]).toBe(BRIDGE.drive)
    expect(recording.timeSec![0]).toBe(1e-4)
    // The sample whose window holds the edge shows its share of the voltage.
    const shared = recording.columns.voltage![101]!
    expect(shared).toBeGreaterThan(0.5 * 6 * 0.76)
    expect(shared).toBeLessThan(6)
    expect(plant.state().bridge).toBe('coast')
  })

  test('edges and bridge column can be withheld', () => {
    const plant = createPlant(motor, defaultBench(motor), 1)
    const steps = [{ bridge: 'drive', setVolt: 6, durationSec: 0.01 }] as const
    expect(recordPractice(plant, steps, 1000, { logEdges: false }).edges).toEqual([])
    expect(recordPractice(plant, steps, 1000, { logBridge: false })).toMatchObject({
      bridge: null,
      edges: [],
    })
  })

  test('an unwrapped position agrees with the speed', () => {
    const plant = createPlant(motor, defaultBench(motor, { position: true }), 1, {
      switches: REALISTIC,
    })
    const { columns } = recordPractice(
      plant,
      [{ bridge: 'drive', setVolt: 24, durationSec: 0.5 }],
      10_000,
    )
    const { position, speed } = columns
    expect(position![4999]).toBeGreaterThan(250)
    expectRelative((position![4999]! - position![4899]!) / 0.01, speed![4950]!, 2e-3)
  })

  test('a suite keeps one calibration and draws noise anew for each run', () => {
    const runs = practiceSuite(motor, 5)
    expect(runs.map(run => run.kind)).toEqual([
      'zero',
      ...Array(6).fill('locked-rotor'),
      'free-run',
      'run-up',
      'run-up',
      'coast-down',
      'coast-down',
    ])
    expect(runs.map(run => run.id)).toEqual([1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12])
    expect(runs[1]!.conditions.shaftAngleRad).not.toBe(runs[2]!.conditions.shaftAngleRad)
    const head = (n: number) => runs[n]!.recording.columns.current!.slice(0, 50)
    expect(head(1)).not.toEqual(head(2))
    expect(practiceSuite(motor, 5)[3]!.recording.columns).toEqual(runs[3]!.recording.columns)
  })
})
