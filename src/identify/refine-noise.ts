import type { NoiseLevels } from '../motor/prepared-run.ts'
import { RunObserver } from '../motor/run-observer.ts'
import { lowest, type Tried } from '../numerics/parabola.ts'
import type { JointModel, JointPoint } from './joint-model.ts'

/** Factors on the variances of current and speed; a speed's overlapping windows ask for more. */
const FACTOR_RANGE = { currentFactor: [0.5, 4], speedFactor: [0.5, 100] } as const
/** First step in the logarithm of a variance, and how often all levels are gone through. */
const FIRST_STEP = 1
const SWEEPS = 2
/** From nil a level is tried at these logarithms over its unit: factors of 10, 1000, 10⁵, 10⁷. */
const LEAPS = [1, 3, 5, 7].map(decades => decades * Math.LN10)
/** What the motor itself does that the model leaves out. */
const DISTURBANCES = ['openRipple', 'ripple', 'resistanceRipple', 'torque', 'torqueRipple'] as const
type Level = (typeof DISTURBANCES)[number] | 'currentFactor' | 'speedFactor'

/** From where levels that may be nil begin: what the channels' own noise amounts to in their terms. */
export interface NoiseUnits {
  readonly ripple: number
  readonly resistanceRipple: number
  readonly torque: number
  readonly torqueRipple: number
}

/**
 * Noise levels by maximum likelihood at a fixed motor: for the locked runs and the others apart, factors
 * on the variances of current and speed, ripple of the back-EMF, and the power density of a disturbance
 * of the torque, one after the other along their logarithms. What the model leaves out (commutation,
 * rough friction) ends up here, so that no reading is trusted more than it deserves.
 * Begins from the channels' own noise: levels found beside a poor motor would hide a better one.
 */
export function refineNoise(
  model: JointModel,
  point: JointPoint,
  units: readonly NoiseUnits[],
): void {
  const all = model.members.map((_, r) => r)
  const isLocked = (r: number) => model.members[r]!.run.shaft === 'locked'
  for (const group of [all.filter(isLocked), all.filter(r => !isLocked(r))]) {
    if (group.length === 0) continue
    const levels: readonly Level[] = isLocked(group[0]!) ? LOCKED_LEVELS : FREE_LEVELS
    for (const r of group) model.members[r]!.noise = { ...model.members[r]!.noise, ...NO_EXTRA }
    const search = new LevelSearch(model, point, units, group)
    for (let sweep = 0; sweep < SWEEPS; sweep++) {
      for (const level of levels) {
        // What is no better than nil beside the other levels is not tried again.
        if (sweep > 0 && search.isNil(level)) continue
        search.along(level, FIRST_STEP / (1 + sweep))
      }
    }
  }
}

const LOCKED_LEVELS: readonly Level[] = ['currentFactor']
const FREE_LEVELS: readonly Level[] = [...DISTURBANCES, 'currentFactor', 'speedFactor']

/** Whether some disturbance was taken to be there before and is not now. */
export function hasLostDisturbance(before: NoiseLevels, now: NoiseLevels): boolean {
  return DISTURBANCES.some(level => before[level] > 0 && now[level] === 0)
}

const NO_EXTRA: Readonly<Record<Level, number>> = {
  currentFactor: 1,
  speedFactor: 1,
  ripple: 0,
  openRipple: 0,
  resistanceRipple: 0,
  torque: 0,
  torqueRipple: 0,
}

/** Ripple of small motors, and a torque a hundred times rougher than its current reads. */
const USUAL_RIPPLE = 0.03 ** 2
const USUAL_ROUGHNESS = 100
const USUAL_SPEED_FACTOR = 10

/** Levels that do for a start, whatever the motor. */
export function setUsualNoise(model: JointModel, units: readonly NoiseUnits[]): void {
  model.members.forEach((member, r) => {
    member.noise = {
      ...member.noise,
      ...NO_EXTRA,
      ripple: USUAL_RIPPLE,
      openRipple: USUAL_RIPPLE,
      resistanceRipple: USUAL_RIPPLE,
      speedFactor: USUAL_SPEED_FACTOR,
      torque: USUAL_ROUGHNESS * units[r]!.torque,
    }
  })
}

class LevelSearch {
  private readonly model: JointModel
  private readonly point: JointPoint
  private readonly units: readonly NoiseUnits[]
  private readonly group: readonly number[]
  private readonly observers: readonly RunObserver[]
  private best: number
  private readings = 1

  constructor(
    model: JointModel,
    point: JointPoint,
    units: readonly NoiseUnits[],
    group: readonly number[],
  ) {
    this.model = model
    this.point = point
    this.units = units
    this.group = group
    this.observers = group.map(
      r => new RunObserver(model.members[r]!.excerpt, NOTHING_MOVES, model.choices.setting),
    )
    this.best = this.cost()
  }

  isNil(level: Level): boolean {
    return this.group.every(r => this.model.members[r]!.noise[level] === 0)
  }

  /** Steps that double while the likelihood rises, then the top of the parabola through the last three. */
  along(level: Level, firstStep: number): void {
    const before = this.group.map(r => this.model.members[r]!.noise)
    const set = (shift: number) => {
      this.group.forEach((r, n) => {
        const origin = before[n]!
        const value = moved(origin[level], this.units[r]!, level, shift)
        this.model.members[r]!.noise = { ...origin, [level]: value }
      })
    }
    // At the end of its range a factor stays where it is.
    const r = this.group[0]!
    const costs = new Map([[before[0]![level], this.best]])
    const at = (shift: number) => {
      set(shift)
      const value = this.model.members[r]!.noise[level]
      const cost = costs.get(value) ?? this.cost()
      costs.set(value, cost)
      return cost
    }
    let middle: Tried = { shift: 0, cost: this.best }
    if (before.every(noise => noise[level] === 0)) {
      // A level more has to be worth it: the Bayesian information criterion for one parameter.
      const nil = this.best - Math.log(this.readings)
      for (const shift of LEAPS) {
        const cost = at(shift)
        if (cost < Math.min(nil, middle.cost)) middle = { shift, cost }
      }
      // Nil stays nil where no leap is better.
      if (middle.shift === 0) {
        set(0)
        return
      }
    }
    let right: Tried = { shift: middle.shift + firstStep, cost: at(middle.shift + firstStep) }
    let left: Tried
    if (right.cost < middle.cost) {
      left = middle
      for (let step = 2 * firstStep; right.cost < middle.cost; step *= 2) {
        left = middle
        middle = right
        right = { shift: middle.shift + step, cost: at(middle.shift + step) }
      }
    } else {
      left = { shift: middle.shift - firstStep, cost: at(middle.shift - firstStep) }
      for (let step = 2 * firstStep; left.cost < middle.cost; step *= 2) {
        right = middle
        middle = left
        left = { shift: middle.shift - step, cost: at(middle.shift - step) }
      }
    }
    const { shift } = lowest(left, middle, right)
    const top = Math.abs(shift - middle.shift) > 0.1 ? at(shift) : Number.POSITIVE_INFINITY
    this.best = Math.min(top, middle.cost)
    if (!(top < middle.cost)) set(middle.shift)
  }

  /** −2 ln of the likelihood of the excerpts, up to a constant. */
  private cost(): number {
    let total = 0
    let readings = 0
    this.observers.forEach((observer, n) => {
      const { noise, group } = this.model.members[this.group[n]!]!
      observer.lnResistanceOffset = this.point.offsets[group]!
      const sums = observer.setGains(this.point.motor, noise, this.model.clip)
      total += sums.logDeterminant + sums.cost
      readings += sums.readings
    })
    this.readings = Math.max(1, readings)
    return Number.isFinite(total) ? total : Number.POSITIVE_INFINITY
  }
}

const NOTHING_MOVES = { coordinates: [], tied: true } as const

function moved(value: number, units: NoiseUnits, level: Level, shift: number): number {
  if (level === 'currentFactor' || level === 'speedFactor') {
    const [low, high] = FACTOR_RANGE[level]
    return Math.min(high, Math.max(low, value * Math.exp(shift)))
  }
  const unit = units[level === 'openRipple' ? 'ripple' : level]
  if (value === 0) return shift > 0 ? unit * Math.exp(shift) : 0
  const next = value * Math.exp(shift)
  return next < unit * NOTHING ? 0 : next
}

/** Below this share of its unit a level makes no difference. */
const NOTHING = 1e-3
