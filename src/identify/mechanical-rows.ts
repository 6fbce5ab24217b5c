import { DRAG_TERMS, dragShape } from '../analysis/friction.ts'
import { fitGain, fitMomentum } from '../analysis/momentum-fit.ts'
import { type Moving, transientTerms } from '../analysis/moving.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'

/** A run of a turning shaft, and what was added to the shaft in it. */
export interface TurningRun {
  readonly run: number
  readonly moving: Moving
  /** Beyond the rotor (and the fixture common to all runs). */
  readonly addedInertiaKgM2: number
  readonly loadTorqueNm: number
}

/**
 * One equation in the unknowns α, β, γ, o (drag as a current, in the order of `DRAG_TERMS`), j = J/k_t and
 * κ = 1/k_t, in amperes:
 *   amps = α s + β ω + γ ω|ω| + o + acceleration j + (load + added inertia × acceleration) κ
 */
export interface MechanicalRow {
  readonly drag: readonly number[]
  readonly acceleration: number
  readonly accelerationSigma: number
  readonly torque: number
  readonly amps: number
  readonly sigma: number
  readonly run: number
  readonly source: 'level' | 'coast' | 'transient' | 'guess'
  /** False for a piece of a ramp, which takes the inertia to be known. */
  readonly settled: boolean
}

/** Nothing is believed to better than this: what the simple tests leave out differs between driving and coasting. */
const TRANSFER = 0.001
const LEVEL = 0.0005
/** Speeds, as shares of the span of a coast, at which its deceleration is handed on. */
const SHARES = [[0.5], [0.25, 0.75], [0.1, 0.5, 0.9]] as const

/** What the steady levels say: the current at a speed. */
export function levelRows({ run, moving, loadTorqueNm }: TurningRun): MechanicalRow[] {
  const excess = moving.drag?.excessAmp ?? 0
  return moving.levels.map((level): MechanicalRow => {
    const speed = level.speed!
    const amps = level.current!.value
    return {
      drag: DRAG_TERMS.map(term => dragShape(term, speed.value)),
      acceleration: speed.slopePerSec,
      accelerationSigma: 0,
      torque: level.torque?.value ?? loadTorqueNm,
      amps,
      sigma: Math.hypot(level.current!.standardUncertainty, excess, LEVEL * Math.abs(amps)),
      run,
      source: 'level',
      settled: level.settled,
    }
  })
}

/** What a coast says: at a speed, drag and load balance the deceleration. */
export function coastRows(turning: TurningRun): MechanicalRow[] {
  const { moving, run } = turning
  const { coast, coastData } = moving
  if (!coast || !coastData) return []
  const sizes = coastData.speed.map(Math.abs)
  const low = Math.min(...sizes)
  const high = Math.max(...sizes)
  const ways = new Set(coastData.speed.map(Math.sign))
  const sign = ways.size === 1 ? [...ways][0]! : 0
  return SHARES[coast.terms.length - 1]!.map((share): MechanicalRow => {
    const speed = low + share * (high - low)
    const shape = [1, speed, speed * speed]
    const deceleration = shape.reduce((sum, x, j) => sum + x * coast.deceleration[j]!, 0)
    const variance = shape.reduce(
      (sum, x, j) => sum + shape.reduce((s, y, k) => s + x * y * coast.covariance[j]![k]!, 0),
      0,
    )
    const acceleration = sign < 0 ? deceleration : -deceleration
    return {
      // Coasts in both directions in one run are fitted together: an offset has cancelled there.
      drag: sign < 0 ? [-1, -speed, -speed * speed, 1] : [...shape, sign],
      acceleration,
      accelerationSigma: Math.hypot(Math.sqrt(variance), TRANSFER * deceleration),
      torque: turning.loadTorqueNm + turning.addedInertiaKgM2 * acceleration,
      amps: 0,
      sigma: 0,
      run,
      source: 'coast',
      settled: true,
    }
  })
}

/** What a driven transient says of the inertia, with the drag at hand; its own where that is null. */
export function transientInertia(
  { moving }: TurningRun,
  drag: readonly number[] | null,
  dragShare: number,
): Estimate | null {
  const { transientData, transient } = moving
  if (!transientData || !transient) return null
  if (!drag) {
    return inverse(
      transient.gain,
      Math.sqrt(transient.covariance[0]![0]!),
      transient.degreesOfFreedom,
    )
  }
  const gain = fitGain(transientData, drag)
  const more = fitGain(
    transientData,
    drag.map(term => term * (1 + dragShare)),
  )
  if (!gain || !more || !(gain.gain > 0)) return null
  const sigma = Math.hypot(gain.standardUncertainty, more.gain - gain.gain, LEVEL * gain.gain)
  return inverse(gain.gain, sigma, gain.degreesOfFreedom)
}

/**
 * A transient's own drag at two of its speeds in each direction, for want of anything better: fitted free of any
 * bound, so that what it cannot tell shows in its uncertainty.
 */
export function transientRows(turning: TurningRun): MechanicalRow[] {
  const { run, moving } = turning
  const data = moving.transientData
  const fit = data && moving.transient ? fitMomentum(data, transientTerms(data)[0]!) : null
  if (!data || !fit || !(fit.gain > 0)) return []
  const high = Math.max(...data.speed.map(Math.abs))
  // The drag is the small difference of a large torque and a large acceleration.
  const floor = (2 * LEVEL * high) / Math.max(...data.sinceSec)
  const signs = [...new Set(data.speed.map(Math.sign))]
  return signs.flatMap(sign =>
    SHARES[1].map((share): MechanicalRow => {
      const drag = DRAG_TERMS.map(term => dragShape(term, sign * share * high))
      const acceleration = -drag.reduce((sum, x, j) => sum + x * fit.deceleration[j]!, 0)
      const variance = drag.reduce(
        (sum, x, j) =>
          sum + drag.reduce((s, y, k) => s + x * y * fit.covariance[j + 1]![k + 1]!, 0),
        0,
      )
      return {
        drag,
        acceleration,
        accelerationSigma: Math.hypot(Math.sqrt(variance), floor),
        torque: turning.loadTorqueNm + turning.addedInertiaKgM2 * acceleration,
        amps: 0,
        sigma: 0,
        run,
        source: 'transient',
        settled: true,
      }
    }),
  )
}

/**
 * Where all levels have one speed: how the drag there splits into dry and viscous friction can only be guessed,
 * and the guess carries an uncertainty as large as itself.
 */
export function splitGuess(levels: readonly MechanicalRow[]): MechanicalRow[] {
  const fastest = levels.toSorted((a, b) => Math.abs(b.drag[1]!) - Math.abs(a.drag[1]!))[0]
  if (!fastest) return []
  const guess = GUESSED_SHARE * Math.abs(fastest.amps)
  const row = { ...fastest, acceleration: 0, torque: 0, source: 'guess' as const }
  return [{ ...row, drag: [0, Math.abs(fastest.drag[1]!), 0, 0], amps: guess, sigma: guess }]
}

/** Viscous share of the drag at no-load speed; common practice, no source. */
const GUESSED_SHARE = 0.3

function inverse(value: number, sigma: number, degreesOfFreedom: number): Estimate {
  return { value: 1 / value, standardUncertainty: sigma / value ** 2, degreesOfFreedom }
}
