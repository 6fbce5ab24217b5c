import type { MotorParameters } from '../motor/parameters.ts'
import type { NoiseLevels } from '../motor/prepared-run.ts'
import { PHASE, type PreparedRun } from '../motor/prepared-run.ts'
import { linearLeastSquares } from '../numerics/linear/least-squares.ts'
import { endCorrection } from './end-correction.ts'

/** One balance of volts and of torques over a stretch of a run, integrated over time. */
interface Balance {
  readonly locked: boolean
  readonly open: boolean
  readonly fed: boolean
  readonly durationSec: number
  readonly voltSec: number
  readonly ampSec: number
  readonly rad: number
  /** Standard deviations of the two: what happens between coarse samples is not known. */
  readonly ampDoubt: number
  readonly radDoubt: number
  /** ∫ sgn i dt and ∫ sgn ω dt. */
  readonly ampSign: number
  readonly speedSign: number
  readonly loadNms: number
  readonly ampChange: number
  readonly speedChange: number
  /** Σ (duration²/samples): what a unit of white variance adds to an integral. */
  readonly spread: number
}

/** A change this many standard deviations large closes a stretch: derivatives are then well known. */
const CLEAR_CHANGE = 30
const PIECES_OF_SPAN = 10
/** A stretch for the torques goes on over this share of the highest speed. */
const SHARE_OF_TOP = 0.1
/** Standard deviation of what is left of a correction for the ends of an integral, as a share of it. */
const DOUBT_OF_CORRECTION = 0.5

/**
 * Start values for the joint fit from two straight regressions over all runs at once,
 *   ∫v dt = R ∫i dt + L Δi + k_e ∫ω dt + V_b ∫sgn i dt,
 *   k_t ∫i dt − ∫T_load dt = J Δω + T_c ∫sgn ω dt + B ∫ω dt,  what the bench adds to J, T_c and B taken off,
 * on stretches long enough for Δi or Δω to stand out of the noise. No guesses are needed: both are
 * linear. What they cannot tell comes back null.
 */
export interface StartValues {
  readonly resistanceOhm: number | null
  readonly inductanceHenry: number | null
  readonly backEmfConstantVsPerRad: number | null
  readonly brushDropVolt: number
  readonly inertiaKgM2: number | null
  readonly coulombTorqueNm: number
  readonly viscousNmsPerRad: number
}

export function startValues(
  runs: readonly { readonly run: PreparedRun; readonly noise: NoiseLevels }[],
  known: Partial<MotorParameters>,
): StartValues {
  const electric = electricStart(
    runs.map(({ run, noise }) => ({ noise, rows: balancesOf(run, clearOf(noise)) })),
    known,
  )
  const kt =
    known.torqueConstantNmPerA ?? known.backEmfConstantVsPerRad ?? electric.backEmfConstantVsPerRad
  if (kt === null) return { ...electric, ...NO_MECHANIC }
  const turning = runs
    .filter(({ run }) => run.shaft !== 'locked')
    .map(({ run, noise }) => ({
      noise,
      rows: balancesOf(run, turnOf(run, noise)),
      added: run.added,
    }))
  return { ...electric, ...mechanicStart(turning, kt) }
}

/** Changes of current and speed that close a stretch. */
interface Clear {
  readonly amp: number
  readonly speed: number
}

/** For the balance of volts: whatever stands out. */
function clearOf(noise: NoiseLevels): Clear {
  return {
    amp: CLEAR_CHANGE * Math.sqrt(2 * noise.current),
    speed: CLEAR_CHANGE * Math.sqrt(2 * noise.speed),
  }
}

/** For the balance of torques: the noise of Δω falls on friction, which is small, so stretches are long. */
function turnOf(run: PreparedRun, noise: NoiseLevels): Clear {
  let top = 0
  for (const speed of run.speed) if (Math.abs(speed) > top) top = Math.abs(speed)
  return { amp: Infinity, speed: Math.max(clearOf(noise).speed, SHARE_OF_TOP * top) }
}

type Weighed = { readonly noise: NoiseLevels; readonly rows: readonly Balance[] }[]
type Turning = (Weighed[number] & { readonly added: PreparedRun['added'] })[]

function electricStart(runs: Weighed, known: Partial<MotorParameters>) {
  let ohm = known.resistanceOhm ?? 0
  let henry = known.inductanceHenry ?? 0
  let k = known.backEmfConstantVsPerRad ?? 0
  let drop = known.brushDropVolt ?? 0
  const rows = runs.flatMap(({ noise, rows }) => rows.map(row => ({ noise, row })))
  const usable = rows.filter(({ row }) => !row.fed && Number.isFinite(row.voltSec))
  const driven = usable.filter(({ row }) => !row.open && Number.isFinite(row.ampSec))
  const turning = usable.some(({ row }) => row.rad !== 0)
  let withDrop = known.brushDropVolt === undefined
  for (let round = 0; round < 4; round++) {
    const use = usable.filter(({ row }) => row.open || Number.isFinite(row.ampSec))
    const weights = use.map(({ noise, row }) => {
      const speedPart = row.rad === 0 ? 0 : k * k * noise.speed * row.spread
      const volt = noise.voltage * row.spread
      const amp = row.open ? 0 : noise.current * (ohm * ohm * row.spread + 2 * henry * henry)
      const between = (ohm * row.ampDoubt) ** 2 + (k * row.radDoubt) ** 2
      return 1 / (volt + amp + speedPart + between)
    })
    const columns: number[][] = []
    const names: ('ohm' | 'henry' | 'k' | 'drop')[] = []
    const target = use.map(({ row }) => row.voltSec)
    const put = (name: (typeof names)[number], value: number | undefined, column: number[]) => {
      if (value === undefined) {
        names.push(name)
        columns.push(column)
      } else for (let i = 0; i < column.length; i++) target[i]! -= value * column[i]!
    }
    const current = (pick: (row: Balance) => number) =>
      use.map(({ row }) => (row.open ? 0 : pick(row)))
    if (driven.length > 0) {
      put(
        'ohm',
        known.resistanceOhm,
        current(row => row.ampSec),
      )
      put(
        'henry',
        known.inductanceHenry,
        current(row => row.ampChange),
      )
      if (withDrop)
        put(
          'drop',
          undefined,
          current(row => row.ampSign),
        )
      else
        put(
          'drop',
          known.brushDropVolt ?? 0,
          current(row => row.ampSign),
        )
    }
    if (turning) {
      put(
        'k',
        known.backEmfConstantVsPerRad,
        use.map(({ row }) => row.rad),
      )
    }
    const fit = linearLeastSquares(columns, target, weights)
    if (!fit.ok) {
      if (withDrop) {
        withDrop = false
        continue
      }
      break
    }
    names.forEach((name, j) => {
      const value = fit.value.coefficients[j]!
      if (name === 'ohm') ohm = value
      else if (name === 'henry') henry = value
      else if (name === 'k') k = value
      else drop = value
    })
    if (drop < 0) {
      drop = 0
      withDrop = false
    }
    henry = Math.max(henry, 0)
  }
  return {
    resistanceOhm: ohm > 0 ? ohm : null,
    inductanceHenry: henry > 0 ? henry : null,
    backEmfConstantVsPerRad: k > 0 ? k : null,
    brushDropVolt: drop,
  }
}

const NO_MECHANIC = { inertiaKgM2: null, coulombTorqueNm: 0, viscousNmsPerRad: 0 }

function mechanicStart(runs: Turning, kt: number) {
  let inertia = 0
  let coulomb = 0
  let viscous = 0
  const rows = runs.flatMap(({ noise, rows, added }) =>
    rows
      .filter(row => !row.locked && Number.isFinite(row.rad) && row.rad !== 0)
      .filter(row => row.open || Number.isFinite(row.ampSec))
      // A stretch in which the shaft stood still or turned round has no one friction.
      .filter(row => Math.abs(row.speedSign) > 0.999 * row.durationSec)
      .map(row => ({ noise, row, added, torqueNms: knownTorque(row, added, kt) })),
  )
  // Where no torque is known, only their ratios to each other are.
  if (rows.every(({ torqueNms }) => torqueNms === 0)) return NO_MECHANIC
  let free = new Set(['coulomb', 'viscous'])
  for (let round = 0; round < 5; round++) {
    const weights = rows.map(({ noise, row, added }) => {
      const amp = row.open ? 0 : kt * kt * noise.current * row.spread
      const change = 2 * (inertia + added.inertiaKgM2) ** 2 * noise.speed
      const drag = viscous * viscous * noise.speed * row.spread
      // Nothing is balanced to better than a part in a thousand of what flows.
      const least = (1e-3 * (Math.abs(coulomb) + Math.abs(viscous * row.rad))) ** 2
      const between = (kt * row.ampDoubt) ** 2 + (viscous * row.radDoubt) ** 2
      return 1 / (amp + change + drag + least + between + Number.MIN_VALUE)
    })
    const scaled = round === 0 ? rows.map(({ row }) => 1 / row.durationSec ** 2) : weights
    const columns = [rows.map(({ row }) => row.speedChange)]
    if (free.has('coulomb')) columns.push(rows.map(({ row }) => row.speedSign))
    if (free.has('viscous')) columns.push(rows.map(({ row }) => row.rad))
    const target = rows.map(({ torqueNms }) => torqueNms)
    const fit = linearLeastSquares(columns, target, scaled)
    if (!fit.ok) {
      if (free.size === 0) break
      free = new Set(free.size === 2 ? ['coulomb'] : [])
      continue
    }
    const [j = 0, ...rest] = fit.value.coefficients
    inertia = j
    coulomb = free.has('coulomb') ? rest.shift()! : 0
    viscous = free.has('viscous') ? rest.shift()! : 0
    if (viscous < 0 && free.has('coulomb')) {
      viscous = 0
      free.delete('viscous')
    } else if (coulomb < 0) {
      coulomb = 0
      free.delete('coulomb')
    }
  }
  return {
    inertiaKgM2: inertia > 0 ? inertia : null,
    coulombTorqueNm: Math.max(0, coulomb),
    viscousNmsPerRad: Math.max(0, viscous),
  }
}

/** ∫ of what is known to act on the motor's own inertia and friction: winding, load, and what the bench adds. */
function knownTorque(row: Balance, added: PreparedRun['added'], kt: number): number {
  const bench =
    added.inertiaKgM2 * row.speedChange +
    added.coulombNm * row.speedSign +
    added.viscousNmsPerRad * row.rad
  return (row.open ? 0 : kt * row.ampSec) - row.loadNms - bench
}

function balancesOf(run: PreparedRun, clear: Clear): Balance[] {
  const rows: Balance[] = []
  const locked = run.shaft === 'locked'
  for (let from = 0; from < run.stepCount; ) {
    let to = from + 1
    while (to < run.stepCount && sameStretch(run, from, to)) to++
    const phase = run.phase[from]!
    if (phase !== PHASE.blank) {
      const longest = spanSec(run, from, to) / PIECES_OF_SPAN
      let a = from
      while (a < to && !usableStep(run, a, locked)) a++
      let sums = new BalanceSums(run, a, locked)
      for (let b = a + 1; b < to; b++) {
        if (usableStep(run, b, locked)) {
          const ampChange = phase === PHASE.open ? 0 : run.current[b]! - run.current[a]!
          const speedChange = locked ? 0 : run.speed[b]! - run.speed[a]!
          const changed = Math.abs(ampChange) > clear.amp || Math.abs(speedChange) > clear.speed
          if (changed || sums.durationTo(b) >= longest) {
            rows.push(sums.closeAt(b, ampChange, speedChange))
            a = b
            sums = new BalanceSums(run, a, locked)
            continue
          }
        }
        sums.add(b, 1)
      }
    }
    from = to
  }
  return rows
}

function sameStretch(run: PreparedRun, from: number, k: number): boolean {
  return (
    run.start[k] === 0 &&
    run.phase[k] === run.phase[from] &&
    run.spanOfCell[run.cellOf[k]!] === run.spanOfCell[run.cellOf[from]!]
  )
}

function usableStep(run: PreparedRun, k: number, locked: boolean): boolean {
  const phase = run.phase[k]!
  const speed = locked || Number.isFinite(run.speed[k]!)
  if (phase === PHASE.open) return speed
  return speed && Number.isFinite(run.current[k]!)
}

function spanSec(run: PreparedRun, from: number, to: number): number {
  let sum = 0
  for (let k = from; k < to; k++) sum += run.classes[run.classOf[k]!]!.durationSec
  return sum
}

/** Integrals from the middle of one step on, to the middle of another. */
class BalanceSums {
  readonly #run: PreparedRun
  readonly #first: number
  readonly #locked: boolean
  readonly #open: boolean
  readonly #fed: boolean
  #durationSec = 0
  #gapSec = 0
  #voltSec = 0
  #ampSec = 0
  #rad = 0
  #ampSign = 0
  #speedSign = 0
  #loadNms = 0
  #spread = 0

  constructor(run: PreparedRun, first: number, locked: boolean) {
    this.#run = run
    this.#first = first
    this.#locked = locked
    this.#open = run.phase[first] === PHASE.open
    this.#fed = run.phase[first] === PHASE.currentFed
    if (first < run.stepCount) this.add(first, 0.5)
  }

  /** A share of step k. */
  add(k: number, share: number): void {
    const run = this.#run
    const step = run.classes[run.classOf[k]!]!
    const dt = step.durationSec * share
    this.#durationSec += dt
    this.#voltSec += dt * run.voltage[k]!
    this.#loadNms += dt * (run.loadTorque === null ? run.loadTorqueNm : run.loadTorque[k]!)
    if (!usableStep(run, k, this.#locked)) {
      this.#gapSec += dt
      return
    }
    const amp = this.#open ? 0 : run.current[k]!
    const speed = this.#locked ? 0 : run.speed[k]!
    this.#ampSec += dt * amp
    this.#rad += dt * speed
    this.#ampSign += dt * Math.sign(amp)
    this.#speedSign += dt * Math.sign(speed)
    this.#spread += (dt * dt) / step.samples
  }

  durationTo(last: number): number {
    const run = this.#run
    return this.#durationSec + run.classes[run.classOf[last]!]!.durationSec * 0.5
  }

  closeAt(last: number, ampChange: number, speedChange: number): Balance {
    this.add(last, 0.5)
    // Steps without readings count with the mean of the others.
    const run = this.#run
    const amp = this.#open ? 0 : endCorrection(run, run.current, this.#first, last)
    const rad = this.#locked ? 0 : endCorrection(run, run.speed, this.#first, last)
    const fill = this.#durationSec / Math.max(this.#durationSec - this.#gapSec, 1e-300)
    return {
      locked: this.#locked,
      open: this.#open,
      fed: this.#fed,
      durationSec: this.#durationSec,
      voltSec: this.#voltSec,
      ampSec: this.#ampSec * fill + amp,
      rad: this.#rad * fill + rad,
      ampDoubt: DOUBT_OF_CORRECTION * Math.abs(amp),
      radDoubt: DOUBT_OF_CORRECTION * Math.abs(rad),
      ampSign: this.#ampSign * fill,
      speedSign: this.#speedSign * fill,
      loadNms: this.#loadNms,
      ampChange,
      speedChange,
      spread: this.#spread,
    }
  }
}
