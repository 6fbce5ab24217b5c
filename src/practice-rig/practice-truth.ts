import type { ParameterName } from '../records/parameter.ts'
import type { PracticeMotor } from '../records/practice-motor.ts'
import { DEFAULT_BENCH_CHOICES } from './default-bench.ts'
import { type Imperfections, REALISTIC } from './imperfections.ts'
import { FREE_RUN_SHARES } from './practice-steps.ts'
import { buildTurnTable, TURN_CELLS } from './turn-table.ts'

export interface TrueValue {
  readonly value: number
  /** How the number follows from the physics of the practice motor. */
  readonly how: string
}

/**
 * What a perfect identification of the bare motor would report in the terms of a fit: the winding at
 * 20 degC, the magnets at `magnetCelsius`, the temperature of the bench (no usual test tells by how much
 * they weaken).
 * Means over the shaft angle are means over the solved commutator. Friction is what steady free
 * running shows: K̄ ī at the speeds that `FREE_RUN_SHARES` of rated voltage reach, both ways,
 * including the drag of the ripple currents, and then T_c, B and C by least squares over these speeds.
 */
export function practiceTruth(
  motor: PracticeMotor,
  on: Imperfections = REALISTIC.imperfections,
  magnetCelsius: number = DEFAULT_BENCH_CHOICES.ambientCelsius,
): Record<ParameterName, TrueValue> {
  const flux = 1 + motor.magnet.coefficientPerKelvin * (magnetCelsius - 20)
  const table = buildTurnTable(motor, on)
  for (let c = 0; c < table.length; c += 4) table[c]! *= flux
  const k = meanOf(table, 0)
  const resistance = meanOf(table, 1) + motor.brush.contactOhm
  const { friction } = motor
  const direction = on.frictionDirection ? friction.directionShare : 0
  const top = freeRunSpeed(motor, k, resistance)
  const speeds = FREE_RUN_SHARES.map(share => share * top)
  const drags = speeds.map(speed => {
    const fluid = friction.viscousNmsPerRad * speed + friction.windageNms2PerRad2 * speed * speed
    const slow = Math.exp(-((speed / friction.stribeckRadPerSec) ** 2))
    const excess = on.breakAway ? (friction.staticNm - friction.coulombNm) * slow : 0
    const dry = friction.coulombNm + excess
    return dry + fluid + rippleDrag(table, motor, resistance, speed)
  })
  const [coulomb, viscous, windage] = fitQuadratic(speeds, drags)
  const overSpeeds = `steady drag at ${FREE_RUN_SHARES.length} free-run speeds, fitted`
  return {
    resistance: {
      value: resistance,
      how: 'mean over angle at 20 degC, brushes and leads included',
    },
    inductance: { value: motor.winding.inductanceHenry, how: 'of the winding' },
    backEmfConstant: { value: k, how: `mean over angle, magnets at ${magnetCelsius} degC` },
    torqueConstant: { value: k, how: 'equal to the back-EMF constant in SI' },
    brushDrop: { value: motor.brush.dropVolt, how: 'both brushes, at large current' },
    coulombTorque: { value: coulomb, how: `${overSpeeds}: at zero speed, mean of both directions` },
    staticTorque: {
      value: on.breakAway ? friction.staticNm : friction.coulombNm,
      how: 'mean over angle and both directions, without cogging',
    },
    viscousCoefficient: { value: viscous, how: `${overSpeeds}: linear term` },
    windageCoefficient: { value: windage, how: `${overSpeeds}: quadratic term` },
    offsetTorque: {
      value: direction * friction.coulombNm,
      how: 'half the difference of dry friction between the directions',
    },
    inertia: { value: motor.inertiaKgM2, how: 'of the bare rotor' },
  }
}

function meanOf(table: Float64Array, column: number): number {
  let sum = 0
  for (let c = 0; c < TURN_CELLS; c++) sum += table[4 * c + column]!
  return sum / TURN_CELLS
}

/** At rated voltage, cold, by fixed-point iteration of ω = (V - V_b tanh(i/I_b) - R i)/k. */
function freeRunSpeed(motor: PracticeMotor, k: number, resistance: number): number {
  const { brush, friction, rating } = motor
  let speed = rating.voltageVolt / k
  for (let pass = 0; pass < 50; pass++) {
    const fluid = friction.viscousNmsPerRad + friction.windageNms2PerRad2 * speed
    const amp = (friction.coulombNm + fluid * speed) / k
    const drop = brush.dropVolt * Math.tanh(amp / brush.kneeAmp)
    speed = (rating.voltageVolt - drop - resistance * amp) / k
  }
  return speed
}

/**
 * Extra K̄ ī that ripple costs at constant speed. The current's ripple solves
 *   L ω dδi/dθ = -R δi - ω δK
 * over one turn (exact in each cell, second turn kept), and since the mean of K i is the drag,
 *   K̄ ī = drag - mean(δK δi).
 */
function rippleDrag(
  table: Float64Array,
  motor: PracticeMotor,
  resistance: number,
  speed: number,
): number {
  const mean = meanOf(table, 0)
  const cellSec = (2 * Math.PI) / TURN_CELLS / speed
  const decay = Math.exp((-resistance * cellSec) / motor.winding.inductanceHenry)
  let amp = 0
  let sum = 0
  for (let c = 0; c < 2 * TURN_CELLS; c++) {
    const ripple = table[4 * (c % TURN_CELLS)]! - mean
    const settled = (-speed * ripple) / resistance
    const next = settled + (amp - settled) * decay
    if (c >= TURN_CELLS) sum += 0.5 * ripple * (amp + next)
    amp = next
  }
  return -sum / TURN_CELLS
}

/** Least squares of y = a + b x + c x², x scaled to its largest value. */
function fitQuadratic(xs: readonly number[], ys: readonly number[]): [number, number, number] {
  const scale = Math.max(...xs)
  const rows = xs.map(x => [1, x / scale, (x / scale) ** 2])
  const matrix = [0, 1, 2].map(r => [
    ...[0, 1, 2].map(c => rows.reduce((sum, row) => sum + row[r]! * row[c]!, 0)),
    rows.reduce((sum, row, n) => sum + row[r]! * ys[n]!, 0),
  ])
  for (let p = 0; p < 3; p++) {
    for (let r = 0; r < 3; r++) {
      if (r === p) continue
      const factor = matrix[r]![p]! / matrix[p]![p]!
      for (let c = p; c < 4; c++) matrix[r]![c]! -= factor * matrix[p]![c]!
    }
  }
  const solved = matrix.map((row, p) => row[3]! / row[p]!)
  return [solved[0]!, solved[1]! / scale, solved[2]! / scale ** 2]
}
